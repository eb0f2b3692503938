"""Limits learned from a record: how long silence may last, for this resident, before it is an alarm."""
