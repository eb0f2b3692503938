"""The life of an alarm and the calling of people: pure state machines."""
