"""Signals, formulas and rules in time: one meaning, evaluated step by step or as whole columns."""
