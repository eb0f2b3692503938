"""Invented residents by the hundred: who they are, whether they are like a recorded one, what limits do for them."""
