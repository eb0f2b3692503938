"""Naive and published ways of setting the limit, written from their formulas, for comparison only.

Each module gives ``SETTINGS``, the sweep of its one parameter from eager to patient, and ``alarms(past, today)``: when
it would tell of a silence that begins at each of today's signs of life, one row for each setting.
"""
