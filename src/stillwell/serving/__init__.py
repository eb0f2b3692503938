"""Serving HTTP: what the watch, its control, the keeper and the pages have in common."""
