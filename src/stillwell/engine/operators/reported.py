"""What a part reports.

Pulse: the instants of its reports. Level and number: the value last reported, unknown before the first report and
from the moment the part is lost until it reports a value again.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from stillwell.engine.axis import Axis, steps_from
from stillwell.engine.operators.cell import NEVER, Cell
from stillwell.record.columns import FALSE, TRUE, UNKNOWN, Pulses, Steps


@dataclass(frozen=True, slots=True)
class PulseReport:
    """A pulse signal of a part."""

    signal: str


@dataclass(frozen=True, slots=True)
class LevelReport:
    """A level signal of a part; its child is whether the part is lost."""

    signal: str


@dataclass(frozen=True, slots=True)
class NumberReport:
    """A number signal of a part; its child is whether the part is lost."""

    signal: str


def level_column(axis: Axis, reports: Steps, lost: Steps, initial: Any = UNKNOWN) -> Steps:
    """Return the level: reports, unknown where the part went lost since."""
    gone = lost.times[lost.values == TRUE]
    changes = [(reports.times, reports.values), (gone, np.int8(UNKNOWN))]
    return steps_from(axis, changes, np.asarray(initial, np.int8))


def number_column(axis: Axis, reports: Steps, lost: Steps, initial: Any = np.nan) -> Steps:
    """Return the number: reports, NaN where the part went lost since."""
    gone = lost.times[lost.values == TRUE]
    return steps_from(axis, [(reports.times, reports.values), (gone, np.nan)], np.asarray(initial, np.float64))


def pulse_column(axis: Axis, reports: Pulses) -> Pulses:
    """Return the reports that lie on the axis, each instant once."""
    times = reports.times
    if len(times) and not (len(axis.starts) == 1 and times[0] >= axis.starts[0] and times[-1] < axis.ends[0]):
        times = times[axis.inside(times)]
    if len(times) > 1:
        new = times[1:] != times[:-1]
        if not new.all():
            times = times[np.append(np.True_, new)]
    return Pulses(times)


class PulseCell:
    """Fires when reported."""

    __slots__ = ("fired", "value")

    def __init__(self) -> None:
        self.value = UNKNOWN
        self.fired = NEVER

    def start(self, now: int) -> None:
        self.fired = NEVER

    def report(self, now: int, value: float | None) -> None:
        self.fired = now

    def update(self, now: int) -> bool:
        return self.fired == now

    def dump(self) -> list[Any]:
        return []

    def load(self, memory: Sequence[Any]) -> None:
        self.fired = NEVER


def level_of(value: float | None) -> int:
    """Return a reported value as a level."""
    return UNKNOWN if value is None else TRUE if value else FALSE


def number_of(value: float | None) -> float:
    """Return a reported value as a number."""
    return math.nan if value is None else float(value)


class ValueCell:
    """Holds the level or number last reported; ``meaning`` turns what was reported into the value."""

    __slots__ = ("fired", "heard", "lost", "meaning", "reported", "value")

    def __init__(self, lost: Cell, meaning: Callable[[float | None], Any]) -> None:
        self.lost = lost
        self.meaning = meaning
        self.value: Any = meaning(None)
        self.reported: Any = self.value
        self.heard = NEVER
        self.fired = NEVER

    def start(self, now: int) -> None:
        self.value = self.meaning(None)

    def report(self, now: int, value: float | None) -> None:
        self.reported, self.heard = self.meaning(value), now

    def update(self, now: int) -> bool:
        before = self.value
        if self.heard == now:
            self.value = self.reported
        elif self.lost.value == TRUE:
            self.value = self.meaning(None)
        return bool(self.value != before)

    def dump(self) -> list[Any]:
        return [None if self.value != self.value else self.value]

    def load(self, memory: Sequence[Any]) -> None:
        self.value = self.meaning(None) if memory[0] is None else memory[0]
