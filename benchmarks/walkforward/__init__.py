"""Walk-forward over recorded homes: what a limit would have cost in false alarms, and how soon it would have told."""
