"""Invented residents in a planned home, and broken parts: a record made from a seed."""
