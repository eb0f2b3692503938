"""Ways of telling somebody. Each is a function that takes an address and a notice and says what became of it."""
