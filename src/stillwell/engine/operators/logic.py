"""Kleene's three-valued logic, and pulses joined or let through.

With false = 0, unknown = 1 and true = 2: not x = 2 - x, and = least, or = greatest. A pulse among levels comes
through where every level is true at its instant.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import reduce
from typing import Any

import numpy as np

from stillwell.engine.axis import Axis, at, merge_equal, merged_times, union
from stillwell.engine.operators.cell import NEVER, Cell
from stillwell.record.columns import FALSE, TRUE, UNKNOWN, Pulses, Steps


@dataclass(frozen=True, slots=True)
class Negation:
    """Not."""


@dataclass(frozen=True, slots=True)
class AllOf:
    """And, of levels."""


@dataclass(frozen=True, slots=True)
class AnyOf:
    """Or, of levels."""


@dataclass(frozen=True, slots=True)
class AnyPulse:
    """Or, of pulses. One that is ``apart`` belongs to a single reader, whoever else joins the same pulses."""

    apart: bool = False


@dataclass(frozen=True, slots=True)
class PulseWhile:
    """The instants at which every pulse child comes and every level child is true; the first child is a pulse."""

    pulses: int


def negation_column(axis: Axis, body: Steps) -> Steps:
    """Return the reflection."""
    del axis
    return Steps(body.times, (TRUE - body.values).astype(np.int8))


def all_column(axis: Axis, parts: Sequence[Steps]) -> Steps:
    """Return the least."""
    times = merged_times(parts)
    return merge_equal(axis, times, reduce(np.minimum, (at(part, times) for part in parts)))


def any_column(axis: Axis, parts: Sequence[Steps]) -> Steps:
    """Return the greatest."""
    times = merged_times(parts)
    return merge_equal(axis, times, reduce(np.maximum, (at(part, times) for part in parts)))


def any_pulse_column(parts: Sequence[Pulses]) -> Pulses:
    """Return all the instants."""
    return union(parts)


def pulse_while_column(pulses: Sequence[Pulses], levels: Sequence[Steps]) -> Pulses:
    """Return the common instants at which every level is true."""
    times = reduce(lambda a, b: np.intersect1d(a, b, assume_unique=True), (one.times for one in pulses))
    for level in levels:
        times = times[at(level, times) == TRUE]
    return Pulses(times)


class NegationCell:
    """Keeps nothing but its value."""

    __slots__ = ("body", "fired", "value")

    def __init__(self, body: Cell) -> None:
        self.body = body
        self.value = UNKNOWN
        self.fired = NEVER

    def start(self, now: int) -> None:
        self.value = UNKNOWN

    def update(self, now: int) -> bool:
        before = self.value
        self.value = TRUE - self.body.value
        return bool(self.value != before)

    def dump(self) -> list[Any]:
        return [self.value]

    def load(self, memory: Sequence[Any]) -> None:
        self.value = memory[0]


class GatherCell:
    """And, or: the least or the greatest of its parts."""

    __slots__ = ("fired", "parts", "stop", "value")

    def __init__(self, parts: Sequence[Cell], *, every: bool) -> None:
        self.parts = tuple(parts)
        self.stop = FALSE if every else TRUE
        self.value = UNKNOWN
        self.fired = NEVER

    def start(self, now: int) -> None:
        self.value = UNKNOWN

    def update(self, now: int) -> bool:
        stop, before = self.stop, self.value
        value = TRUE - stop
        for part in self.parts:
            if part.value == stop:
                value = stop
                break
            if part.value == UNKNOWN:
                value = UNKNOWN
        self.value = value
        return bool(value != before)

    def dump(self) -> list[Any]:
        return [self.value]

    def load(self, memory: Sequence[Any]) -> None:
        self.value = memory[0]


class AnyPulseCell:
    """Fires whenever it is called: only its parts, all pulses, call it."""

    __slots__ = ("fired", "value")

    def __init__(self) -> None:
        self.value = UNKNOWN
        self.fired = NEVER

    def start(self, now: int) -> None:
        self.fired = NEVER

    def update(self, now: int) -> bool:
        if self.fired == now:
            return False
        self.fired = now
        return True

    def dump(self) -> list[Any]:
        return []

    def load(self, memory: Sequence[Any]) -> None:
        self.fired = NEVER


class PulseWhileCell:
    """Lets its pulse through where the levels are true."""

    __slots__ = ("fired", "levels", "pulses", "value")

    def __init__(self, pulses: Sequence[Cell], levels: Sequence[Cell]) -> None:
        self.pulses = tuple(pulses)
        self.levels = tuple(levels)
        self.value = UNKNOWN
        self.fired = NEVER

    def start(self, now: int) -> None:
        self.fired = NEVER

    def update(self, now: int) -> bool:
        for pulse in self.pulses:
            if pulse.fired != now:
                return False
        for level in self.levels:
            if level.value != TRUE:
                return False
        self.fired = now
        return True

    def dump(self) -> list[Any]:
        return []

    def load(self, memory: Sequence[Any]) -> None:
        self.fired = NEVER
