"""``x for d``: x has been true for at least d.

At t: the least value of x over [t - d, t]. Before the start of watching x is unknown.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from stillwell.engine.axis import Axis, cover, runs, steps_from
from stillwell.engine.operators.cell import NEVER, Cell, Timers
from stillwell.record.columns import FALSE, TRUE, UNKNOWN, Steps


@dataclass(frozen=True, slots=True)
class Held:
    """True for at least so long."""

    duration_ms: int


def column(operator: Held, axis: Axis, body: Steps) -> Steps:
    """Return the level: a false stretch reaches d further, a true one begins d later, the rest is unknown."""
    d = operator.duration_ms
    false_starts, false_ends = runs(axis, body, FALSE)
    true_starts, true_ends = runs(axis, body, TRUE)
    no_starts, no_ends = cover(false_starts, false_ends + d)
    yes = true_starts + d < true_ends
    yes_starts, yes_ends = true_starts[yes] + d, true_ends[yes]
    times = np.unique(np.concatenate([axis.starts, no_starts, no_ends, yes_starts, yes_ends]))
    times = times[axis.inside(times)]
    values = np.full(len(times), UNKNOWN, np.int8)
    values[_within(times, yes_starts, yes_ends)] = TRUE
    values[_within(times, no_starts, np.minimum(no_ends, axis.end_of(no_starts)))] = FALSE
    return steps_from(axis, [(times, values)], np.int8(UNKNOWN))


def _within(times: Any, starts: Any, ends: Any) -> Any:
    if not len(starts):
        return np.zeros(len(times), bool)
    last = np.searchsorted(starts, times, "right") - 1
    return (last >= 0) & (times < ends[last])


class HeldCell:
    """Remembers when x was last false and last unknown."""

    __slots__ = (
        "body",
        "due",
        "duration_ms",
        "false_end",
        "fired",
        "index",
        "seen",
        "timers",
        "unknown_end",
        "value",
    )

    def __init__(self, operator: Held, body: Cell, index: int, timers: Timers) -> None:
        self.duration_ms = operator.duration_ms
        self.body = body
        self.index = index
        self.timers = timers
        self.value = UNKNOWN
        self.fired = NEVER
        self.seen = UNKNOWN
        self.false_end = NEVER
        self.unknown_end = NEVER
        self.due = NEVER

    def start(self, now: int) -> None:
        self.value, self.seen = UNKNOWN, UNKNOWN
        self.false_end, self.unknown_end, self.due = NEVER, now, NEVER

    def update(self, now: int) -> bool:
        held = self.body.value
        if held != self.seen:
            if self.seen == FALSE:
                self.false_end = now
            elif self.seen == UNKNOWN:
                self.unknown_end = now
            self.seen = held
        before, due = self.value, NEVER
        if held == FALSE:
            self.value = FALSE
        elif self.false_end + self.duration_ms > now:
            self.value, due = FALSE, self.false_end + self.duration_ms
        elif held == UNKNOWN:
            self.value = UNKNOWN
        elif self.unknown_end + self.duration_ms > now:
            self.value, due = UNKNOWN, self.unknown_end + self.duration_ms
        else:
            self.value = TRUE
        if due not in (NEVER, self.due):
            self.due = due
            self.timers.wake(due, self.index)
        return self.value != before

    def dump(self) -> list[Any]:
        return [self.value, self.seen, self.false_end, self.unknown_end, self.due]

    def load(self, memory: Sequence[Any]) -> None:
        self.value, self.seen, self.false_end, self.unknown_end, self.due = memory
        if self.due != NEVER:
            self.timers.wake(self.due, self.index)
