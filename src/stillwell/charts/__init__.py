"""Results to pictures."""
