"""The smallest home there is, to be filled with what a test is about."""

from stillwell.plan.model import Plan

REACHED_AFTER_MS = 1
"""How long a message takes to the one person of the smallest home, who can be reached at any hour."""


def plan_of(zone="Europe/London", **tables):
    """Return a plan; ``tables`` replace those of the smallest home."""
    return Plan.model_validate(
        {
            "home": {"name": "x", "timezone": zone},
            "resident": {"name": "x"},
            "people": {"ben": {"name": "Ben", "channels": {"text": "1ms"}}},
            "calls": {"family": {"steps": [{"whom": ["ben"], "by": "text", "wait": "1min"}]}},
            "hazard": [{"name": "collapse", "kind": "collapse", "deadline": {"day": "1h", "night": "1h"}}],
        }
        | tables
    )


def alarm(when, **keys):
    """Return an alarm for the smallest home, called by its own rule."""
    return {"name": when, "when": when, "hazard": "collapse", "call": "family"} | keys
