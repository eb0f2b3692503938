"""``n p within d``: at least n instants of p in (t - d, t].

Until d after the start of watching a lower count is unknown, not false.
"""

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from stillwell.engine.axis import Axis, level_from_runs
from stillwell.engine.operators.cell import NEVER, Cell, Timers
from stillwell.record.columns import FALSE, TRUE, UNKNOWN, Pulses, Steps


@dataclass(frozen=True, slots=True)
class Count:
    """At least so many within so long."""

    count: int
    duration_ms: int


def column(operator: Count, axis: Axis, body: Pulses) -> Steps:
    """Return the level: each n-th pulse in a row opens a stretch that lasts until the oldest of them is d old."""
    d, n, times = operator.duration_ms, operator.count, body.times
    starts, ends = times[n - 1 :], times[: max(0, len(times) - n + 1)] + d
    good = starts < ends
    starts, ends = starts[good], ends[good]
    true = starts, np.minimum(ends, axis.end_of(starts))
    early = axis.starts, np.minimum(axis.starts + d, axis.ends)
    return level_from_runs(axis, true, early)


class CountCell:
    """Remembers the last n instants."""

    __slots__ = ("begin", "body", "due", "duration_ms", "fired", "index", "recent", "timers", "value")

    def __init__(self, operator: Count, body: Cell, index: int, timers: Timers) -> None:
        self.duration_ms = operator.duration_ms
        self.recent: deque[int] = deque(maxlen=operator.count)
        self.body = body
        self.index = index
        self.timers = timers
        self.value = UNKNOWN
        self.fired = NEVER
        self.begin = NEVER
        self.due = NEVER

    def start(self, now: int) -> None:
        self.value, self.begin = UNKNOWN, now
        self.recent.clear()
        self.due = now + self.duration_ms
        self.timers.wake(self.due, self.index)

    def update(self, now: int) -> bool:
        recent, d = self.recent, self.duration_ms
        if self.body.fired == now and not (recent and recent[-1] == now):
            recent.append(now)
        before = self.value
        if len(recent) == recent.maxlen and now - recent[0] < d:
            self.value, due = TRUE, recent[0] + d
        elif now < self.begin + d:
            self.value, due = UNKNOWN, self.begin + d
        else:
            self.value, due = FALSE, NEVER
        if due > now and not now < self.due <= due:
            self.due = due
            self.timers.wake(due, self.index)
        return self.value != before

    def dump(self) -> list[Any]:
        return [self.value, self.begin, self.due, list(self.recent)]

    def load(self, memory: Sequence[Any]) -> None:
        self.value, self.begin, self.due, recent = memory
        self.recent.clear()
        self.recent.extend(recent)
        if self.due != NEVER:
            self.timers.wake(self.due, self.index)
