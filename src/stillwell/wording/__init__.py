"""Results to plain sentences, once, for commands, pages, paper and messages."""
