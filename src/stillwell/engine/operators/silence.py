"""``no p for d``: no p in (t - d, t].

The start of watching counts as a p for the timer, but until it is over nobody knows: unknown, not false. A part that
is lost gives no p, so its silence counts: doubt falls on the side of telling.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from stillwell.engine.axis import Axis, steps_from
from stillwell.engine.operators.cell import NEVER, Cell, Timers
from stillwell.record.columns import FALSE, TRUE, UNKNOWN, Pulses, Steps


@dataclass(frozen=True, slots=True)
class Silence:
    """No pulse for so long."""

    duration_ms: int


def column(operator: Silence, axis: Axis, body: Pulses) -> Steps:
    """Return the level; one difference pass over the pulses, then only the long gaps matter."""
    d, times = operator.duration_ms, body.times
    first = np.searchsorted(times, axis.starts)
    heard, some = axis.ends.copy(), first < len(times)
    heard[some] = times[first[some]]
    late = heard > axis.starts + d
    within = heard < axis.ends
    long = np.flatnonzero(times[1:] - times[:-1] > d)
    following = np.append(times[long + 1], axis.ends[-1])
    long = np.append(long, len(times) - 1)[: len(times)]
    following = following[: len(long)]
    same_lane = following < axis.end_of(times[long])
    changes = [
        (axis.starts[late] + d, np.int8(TRUE)),
        (heard[within], np.int8(FALSE)),
        (times[long] + d, np.int8(TRUE)),
        (following[same_lane], np.int8(FALSE)),
    ]
    return steps_from(axis, changes, np.int8(UNKNOWN))


class SilenceCell:
    """Remembers the last pulse; one timer at a time, looked at again when it is due."""

    __slots__ = ("body", "due", "duration_ms", "fired", "index", "last", "timers", "value")

    def __init__(self, operator: Silence, body: Cell, index: int, timers: Timers) -> None:
        self.duration_ms = operator.duration_ms
        self.body = body
        self.index = index
        self.timers = timers
        self.value = UNKNOWN
        self.fired = NEVER
        self.last = NEVER
        self.due = NEVER

    def start(self, now: int) -> None:
        self.value, self.last = UNKNOWN, now
        self.due = now + self.duration_ms
        self.timers.wake(self.due, self.index)

    def update(self, now: int) -> bool:
        before = self.value
        if self.body.fired == now:
            self.last = now
            if self.due <= now:
                self.due = now + self.duration_ms
                self.timers.wake(self.due, self.index)
            self.value = FALSE
        elif self.last + self.duration_ms <= now:
            self.value = TRUE
        elif self.due <= now:
            self.due = self.last + self.duration_ms
            self.timers.wake(self.due, self.index)
        return self.value != before

    def dump(self) -> list[Any]:
        return [self.value, self.last, self.due]

    def load(self, memory: Sequence[Any]) -> None:
        self.value, self.last, self.due = memory
        self.timers.wake(self.due, self.index)
