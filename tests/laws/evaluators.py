"""The two evaluators side by side: what they say fires, returns and holds, instant by instant."""

import numpy as np

from stillwell.engine import columns, walk


def same_steps(got, expected_values, span):
    """Whether a level has these values at the instants of a span, one by one."""
    at = np.searchsorted(got.times, np.arange(*span), "right") - 1
    return (got.values[at] == expected_values).all()


def differences(program, record):
    """Yield the names of what the columns say otherwise than the steps."""
    fast, slow = columns.run(program, record), walk.run(program, record)
    for points, expected in ((fast.fired, slow.fired), (fast.returned, slow.returned)):
        yield from (name for name, times in expected.items() if points[name].tolist() != times.tolist())
    for name, steps in slow.levels.items():
        at = np.searchsorted(steps.times, np.arange(*record.span), "right") - 1
        if not same_steps(fast.levels[name], steps.values[at], record.span):
            yield name
