"""What must never be: decided over all that can happen, with a timeline where it can."""
