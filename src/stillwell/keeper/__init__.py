"""The watcher outside: it hears the heartbeats of homes and tells people when a home has gone dark."""
