"""Who may come in: passwords, sessions, tokens of forms, limits, and what every answer is sent with."""
