"""Sets of ages that several timers may have together, as bounds on their differences.

Times are whole milliseconds, so every bound is "at most". A zone over n timers is a square of n + 1 rows in one
tuple: entry (i, j) is the most that age i may exceed age j by; number 0 is a timer that is always 0. Entries are
kept as tight as they follow from each other (Floyd and Warshall's shortest paths), which for whole numbers is exact.
"""

from collections.abc import Sequence
from typing import Final, TypeAlias

Zone: TypeAlias = tuple[int, ...]

WITHOUT_BOUND: Final = 2**60


def begun(count: int) -> Zone:
    """Return the zone of timers that have all just begun."""
    return (0,) * ((count + 1) ** 2)


def unbounded() -> Zone:
    """Return the zone of one timer of any age."""
    return (0, 0, WITHOUT_BOUND, 0)


def size(zone: Zone) -> int:
    """Return how many timers a zone is about, plus one."""
    return {1: 1, 4: 2, 9: 3, 16: 4, 25: 5}.get(len(zone)) or round(len(zone) ** 0.5)


def passed(zone: Zone, least_ms: int) -> Zone:
    """Return the ages after so many milliseconds or more."""
    n = size(zone)
    bounds = list(zone)
    for timer in range(1, n):
        bounds[timer * n] = WITHOUT_BOUND
        bounds[timer] -= least_ms
    return tuple(bounds)


def at_most(zone: Zone, a: int, b: int, bound: int) -> Zone | None:
    """Return those ages of a zone with age a - age b at most ``bound``; None where there are none."""
    n = size(zone)
    if zone[a * n + b] <= bound:
        return zone
    if zone[b * n + a] + bound < 0:
        return None
    bounds = list(zone)
    to_a = [zone[row * n + a] for row in range(n)]
    from_b = [zone[b * n + column] for column in range(n)]
    for row in range(n):
        through = to_a[row] + bound
        if to_a[row] >= WITHOUT_BOUND:
            continue
        for column in range(n):
            place = row * n + column
            if from_b[column] < WITHOUT_BOUND and through + from_b[column] < bounds[place]:
                bounds[place] = through + from_b[column]
    return tuple(bounds)


def older(zone: Zone, timer: int, age_ms: int) -> Zone | None:
    """Return those ages of a zone at which the timer's is at least so much."""
    return at_most(zone, 0, timer, -age_ms)


def younger(zone: Zone, timer: int, age_ms: int) -> Zone | None:
    """Return those ages of a zone at which the timer's is at most so much."""
    return at_most(zone, timer, 0, age_ms)


def renewed(zone: Zone, was: Sequence[int]) -> Zone:
    """Return the zone of other timers: each is one of the old, by its number from 1, or has just begun: 0."""
    n = size(zone)
    rows = (0, *was)
    return tuple(zone[row * n + column] for row in rows for column in rows)


def within(zone: Zone, other: Zone) -> bool:
    """Tell whether all ages of a zone are in the other."""
    return all(a <= b for a, b in zip(zone, other, strict=True))


def around(zone: Zone, other: Zone) -> Zone:
    """Return the least zone that holds both."""
    return tuple(map(max, zone, other))
