"""The live service: signals in, decisions out, people told until somebody answers."""
