"""The way to a running watch: what it says of itself, and what may be asked of it. For the commands and the pages."""
