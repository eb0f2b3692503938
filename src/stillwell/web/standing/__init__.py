"""How the home stands now: from the running watch, else from the store, else from the plan alone."""
