"""The sentences of a rule: grammar, formula, back to plain words."""
