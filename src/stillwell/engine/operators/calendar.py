"""Wall-clock time: ``between 22:00 and 07:00``, ``on sat, sun``, ``at 08:00``, sunrise and sunset.

What becomes of a time of day that is skipped or comes twice is settled in ``stillwell.civiltime``.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from stillwell.civiltime import HomeTime, TimeOfDay, occurrences, weekday_spans, window
from stillwell.engine.axis import Axis, level_from_runs
from stillwell.engine.operators.cell import NEVER, Timers
from stillwell.record.columns import FALSE, TRUE, Pulses, Steps

AHEAD_MS = 40 * 86_400_000
"""How far ahead the step form works its edges out at a time."""


@dataclass(frozen=True, slots=True)
class Window:
    """True from each start edge until just before the end edge that belongs to it."""

    home: HomeTime
    start: TimeOfDay
    end: TimeOfDay


@dataclass(frozen=True, slots=True)
class Weekdays:
    """True on some local calendar days."""

    home: HomeTime
    days: frozenset[int]


@dataclass(frozen=True, slots=True)
class Daily:
    """A pulse once each local day."""

    home: HomeTime
    time: TimeOfDay


def spans(operator: Window | Weekdays, start_ms: int, end_ms: int) -> list[tuple[int, int]]:
    """Return the true stretches within a span."""
    if isinstance(operator, Window):
        return window(operator.home, operator.start, operator.end, (start_ms, end_ms))
    return weekday_spans(operator.home, operator.days, (start_ms, end_ms))


def level_column(operator: Window | Weekdays, axis: Axis) -> Steps:
    """Return the level on an axis of real time (one lane)."""
    found = spans(operator, int(axis.starts[0]), int(axis.ends[0]))
    edges = np.array(found, np.int64).reshape(-1, 2)
    return level_from_runs(axis, (edges[:, 0], edges[:, 1]))


def pulse_column(operator: Daily, axis: Axis) -> Pulses:
    """Return the instants on an axis of real time (one lane)."""
    span = (int(axis.starts[0]), int(axis.ends[0]))
    return Pulses(np.array(occurrences(operator.home, operator.time, span), np.int64))


class WindowCell:
    """Knows the next edges; its whole memory is the clock's."""

    __slots__ = ("fired", "index", "next", "operator", "ready", "timers", "until", "value")

    def __init__(self, operator: Window | Weekdays, index: int, timers: Timers) -> None:
        self.operator = operator
        self.index = index
        self.timers = timers
        self.value = FALSE
        self.fired = NEVER
        self.ready: list[tuple[int, int]] = []
        self.next = NEVER
        self.until = NEVER

    def start(self, now: int) -> None:
        self.until = NEVER
        self._look(now)

    def _look(self, now: int) -> None:
        if now >= self.until:
            self.until = now + AHEAD_MS
            self.ready = spans(self.operator, now, self.until)[::-1]
        while self.ready and self.ready[-1][1] <= now:
            self.ready.pop()
        inside = bool(self.ready) and self.ready[-1][0] <= now
        self.value = TRUE if inside else FALSE
        edge = self.ready[-1][1 if inside else 0] if self.ready else self.until
        self.next = min(edge, self.until)
        self.timers.wake(self.next, self.index)

    def update(self, now: int) -> bool:
        if now < self.next:
            return False
        before = self.value
        self._look(now)
        return self.value != before

    def dump(self) -> list[Any]:
        return [self.value, self.next]

    def load(self, memory: Sequence[Any]) -> None:
        self.value, self.next = memory
        self.until = NEVER
        self.timers.wake(self.next, self.index)


class DailyCell:
    """Wakes at the next occurrence."""

    __slots__ = ("fired", "index", "next", "operator", "ready", "timers", "until", "value")

    def __init__(self, operator: Daily, index: int, timers: Timers) -> None:
        self.operator = operator
        self.index = index
        self.timers = timers
        self.value = FALSE
        self.fired = NEVER
        self.ready: list[int] = []
        self.next = NEVER
        self.until = NEVER

    def start(self, now: int) -> None:
        self.until = now
        self._look(now)

    def _look(self, since: int) -> None:
        while not self.ready:
            begin, self.until = self.until, self.until + AHEAD_MS
            self.ready = occurrences(self.operator.home, self.operator.time, (begin, self.until))[::-1]
            if not self.ready:  # a pole's summer: no sunset for weeks
                break
        while self.ready and self.ready[-1] < since:
            self.ready.pop()
        self.next = self.ready[-1] if self.ready else self.until
        self.timers.wake(self.next, self.index)

    def update(self, now: int) -> bool:
        if now < self.next:
            return False
        due = bool(self.ready) and self.ready[-1] == now
        if due:
            self.ready.pop()
            self.fired = now
        self._look(now)
        return due

    def dump(self) -> list[Any]:
        return [self.next]

    def load(self, memory: Sequence[Any]) -> None:
        self.ready = []
        self.until = memory[0]
        self._look(memory[0])
