"""The moment a level changes.

``start of x``: x becomes true and was last known false. ``end of x``: the other way round. A rule *fires* when its
condition becomes true and was last known false or never known, and at each instant of a pulse. An unknown stretch
between two equal values is no change.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from stillwell.engine.axis import Axis, changes_of_known
from stillwell.engine.operators.cell import NEVER, Cell
from stillwell.record.columns import FALSE, TRUE, UNKNOWN, Pulses, Steps, Times


@dataclass(frozen=True, slots=True)
class Edge:
    """Start (``to`` true) or end (``to`` false) of a level."""

    to: int


@dataclass(frozen=True, slots=True)
class Fire:
    """The moments a rule acts; ``of_pulse`` when its condition is a pulse."""

    rule: str
    of_pulse: bool


def edge_column(operator: Edge, axis: Axis, body: Steps, before: Any = None) -> Pulses:
    """Return the instants at which the last known value changes; ``before`` as there."""
    if before is None:
        everything = Axis(axis.starts, axis.ends, axis.starts)
        times, values = changes_of_known(everything, body)
        found = times[(values == operator.to) & ~_first_of_lane(axis, times)]
        return Pulses(found[found >= axis.live[axis.lane_of(found)]])
    times, values = changes_of_known(axis, body, before)
    unheard = np.asarray(before) == UNKNOWN
    fresh = _first_of_lane(axis, times) & unheard[axis.lane_of(times)]
    return Pulses(times[(values == operator.to) & ~fresh])


def _first_of_lane(axis: Axis, times: Times) -> Any:
    lanes = axis.lane_of(times)
    return np.append(np.True_, lanes[1:] != lanes[:-1])[: len(lanes)]


def fire_column(axis: Axis, body: Steps | Pulses, before: Any = None) -> Pulses:
    """Return the instants, from each lane's ``live`` on."""
    if isinstance(body, Steps):
        times, values = changes_of_known(axis, body, before)
        return Pulses(times[values == TRUE])
    if len(axis.starts) == 1 and axis.live[0] <= axis.starts[0]:
        return body
    return Pulses(body.times[body.times >= axis.live[axis.lane_of(body.times)]])


class EdgeCell:
    """Remembers the last known value."""

    __slots__ = ("body", "fired", "last", "to", "value")

    def __init__(self, operator: Edge, body: Cell) -> None:
        self.to = operator.to
        self.body = body
        self.value = UNKNOWN
        self.fired = NEVER
        self.last = UNKNOWN

    def start(self, now: int) -> None:
        self.last = UNKNOWN

    def update(self, now: int) -> bool:
        value, last = self.body.value, self.last
        if value in (UNKNOWN, last):
            return False
        self.last = value
        if value == self.to and last != UNKNOWN:
            self.fired = now
            return True
        return False

    def dump(self) -> list[Any]:
        return [self.last]

    def load(self, memory: Sequence[Any]) -> None:
        self.last = memory[0]


class FireCell:
    """Remembers the last known value of the condition; ``returned`` is the instant it last became false."""

    __slots__ = ("body", "fired", "last", "of_pulse", "returned", "value")

    def __init__(self, operator: Fire, body: Cell) -> None:
        self.of_pulse = operator.of_pulse
        self.body = body
        self.value = UNKNOWN
        self.fired = NEVER
        self.returned = NEVER
        self.last = UNKNOWN

    def start(self, now: int) -> None:
        self.last = UNKNOWN

    def update(self, now: int) -> bool:
        if self.of_pulse:
            self.fired = self.returned = now
            return True
        value, last = self.body.value, self.last
        if value in (UNKNOWN, last):
            return False
        self.last = value
        if value == TRUE:
            self.fired = now
            return True
        if last == TRUE:
            self.returned = now
        return value == FALSE and last == TRUE

    def dump(self) -> list[Any]:
        return [self.last]

    def load(self, memory: Sequence[Any]) -> None:
        self.last = memory[0]
