"""The home as data: text to plan and back, all mistakes in one pass."""
