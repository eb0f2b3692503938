"""Fault trees: the chance of the top event, its minimal cut sets, and what each part costs."""
