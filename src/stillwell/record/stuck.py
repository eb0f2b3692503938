"""Levels that stand true for far longer than is their habit: a door open since July."""

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from stillwell.record.columns import TRUE, Record, Steps, Times, kind_of
from stillwell.record.parts import LINK_LOST
from stillwell.record.presence import DAY_MS

SWITCHED: Final = "on"
"""What is switched stands as long as somebody wants it to."""
STUCK_LEAST_MS: Final = DAY_MS
"""Doors left open and lamps left burning for 12 to 20 hours are normal in the recorded homes."""
STUCK_TIMES: Final = 20.0
"""A stuck level stands this many times as long as it usually does (the median of its other stands).

One that stood only once, its part alive, has no habit to go by: mains power is on for months.
"""


@dataclass(frozen=True, slots=True)
class Stuck:
    """A level that stood true for too long. ``for_good``: no other value followed to the end of the record, be it
    that its part was dead by then."""

    signal: str
    start_ms: int
    end_ms: int
    for_good: bool


def stuck_levels(record: Record, dead: Collection[str]) -> list[Stuck]:
    """Return the stuck levels, in order of name and time. ``dead`` names parts that stopped for good: what their
    levels said last stands for ever, whatever their habit. Links and switched things are left out."""
    found: list[Stuck] = []
    for name, column in sorted(record.signals.items()):
        part, _, word = name.rpartition(".")
        if kind_of(column) == "level" and word not in (LINK_LOST, SWITCHED) and isinstance(column, Steps):
            found += _stuck(name, column, record.span[1], is_dead=part in dead)
    return found


def _stuck(name: str, level: Steps, end: int, *, is_dead: bool) -> Iterator[Stuck]:
    starts, ends = _stands(level, end)
    lengths = ends - starts
    for stand in np.flatnonzero(lengths >= STUCK_LEAST_MS).tolist():
        others = np.delete(lengths, stand)
        for_good = int(ends[stand]) == end
        unlike = bool(len(others)) and lengths[stand] > STUCK_TIMES * float(np.median(others))
        if (for_good and is_dead) or unlike:
            yield Stuck(name, int(starts[stand]), int(ends[stand]), for_good)


def _stands(level: Steps, end: int) -> tuple[Times, Times]:
    """Return starts and ends of the stretches in which a level is true."""
    true = level.values == TRUE
    first = true & ~np.append(np.False_, true[:-1])
    after = ~true & np.append(np.False_, true[:-1])
    starts = level.times[first]
    return starts, np.append(level.times[after], end)[: len(starts)]
