"""A plan, or two, over a record."""
