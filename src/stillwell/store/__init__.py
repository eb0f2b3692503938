"""What a watch must not forget: reports, state, alarms' lives, messages, commands. SQLite, or PostgreSQL for many."""
