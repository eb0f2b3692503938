"""Two pulses in order.

``a then b within d``: a pulse at each b with an a in [t - d, t). ``a without b within d``: a pulse at a + d when no
b came in (a, a + d].
"""

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from stillwell.engine.axis import Axis
from stillwell.engine.operators.cell import NEVER, Cell, Timers
from stillwell.record.columns import UNKNOWN, Pulses


@dataclass(frozen=True, slots=True)
class Then:
    """a, then b."""

    duration_ms: int


@dataclass(frozen=True, slots=True)
class Without:
    """a, and no b after it."""

    duration_ms: int


def then_column(operator: Then, first: Pulses, second: Pulses) -> Pulses:
    """Return the instants of b that follow an a closely enough."""
    before = np.searchsorted(first.times, second.times, "left") - 1
    preceded = before >= 0
    times = second.times[preceded]
    return Pulses(times[times - first.times[before[preceded]] <= operator.duration_ms])


def without_column(operator: Without, axis: Axis, first: Pulses, second: Pulses) -> Pulses:
    """Return a + d for each a that no b followed in time, where the lane still runs then."""
    due = first.times + operator.duration_ms
    after = np.searchsorted(second.times, first.times, "right")
    following = np.append(second.times, np.iinfo(np.int64).max)[after]
    return Pulses(due[(following > due) & (due < axis.end_of(first.times))])


class ThenCell:
    """Remembers the last a."""

    __slots__ = ("duration_ms", "fired", "first", "last", "second", "value")

    def __init__(self, operator: Then, first: Cell, second: Cell) -> None:
        self.duration_ms = operator.duration_ms
        self.first = first
        self.second = second
        self.value = UNKNOWN
        self.fired = NEVER
        self.last = NEVER

    def start(self, now: int) -> None:
        self.last = NEVER

    def update(self, now: int) -> bool:
        follows = self.second.fired == now and now - self.last <= self.duration_ms
        if self.first.fired == now:
            self.last = now
        if follows:
            self.fired = now
        return follows

    def dump(self) -> list[Any]:
        return [self.last]

    def load(self, memory: Sequence[Any]) -> None:
        self.last = memory[0]


class WithoutCell:
    """Remembers each a that still waits for its b."""

    __slots__ = ("duration_ms", "fired", "first", "index", "second", "timers", "value", "waiting")

    def __init__(self, operator: Without, first: Cell, second: Cell, index: int, timers: Timers) -> None:
        self.duration_ms = operator.duration_ms
        self.first = first
        self.second = second
        self.index = index
        self.timers = timers
        self.value = UNKNOWN
        self.fired = NEVER
        self.waiting: deque[int] = deque()

    def start(self, now: int) -> None:
        self.waiting.clear()

    def update(self, now: int) -> bool:
        if self.second.fired == now:
            self.waiting.clear()
        overdue = bool(self.waiting) and self.waiting[0] + self.duration_ms <= now
        if overdue:
            self.waiting.popleft()
            self.fired = now
        if self.first.fired == now:
            self.waiting.append(now)
            self.timers.wake(now + self.duration_ms, self.index)
        return overdue

    def dump(self) -> list[Any]:
        return [list(self.waiting)]

    def load(self, memory: Sequence[Any]) -> None:
        self.waiting = deque(memory[0])
        for begun in self.waiting:
            self.timers.wake(begun + self.duration_ms, self.index)
