"""The table that says what the curve of notice time shows: the longest there is in each hour of the week."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np

from stillwell.civiltime import Span, local_datetime
from stillwell.proof.curve import NEVER, Curve
from stillwell.proof.deadlines import Deadlines, counted

HOURS_A_DAY: Final = 24
_HOUR_MS: Final = 3_600_000

NEVER_TOLD: Final = -1
"""Stands for never in a cell."""


@dataclass(frozen=True, slots=True)
class DaysAlike:
    """Days of the week (0: Monday) on which every hour goes alike; ``hours``: the longest notice time in ms of each.

    None: the hazard counts at no moment of that hour.
    """

    days: tuple[int, ...]
    hours: tuple[int | None, ...]


def longest_by_hour(told: Curve, limit: Deadlines, week: Span, zone: ZoneInfo) -> list[DaysAlike]:
    """Return the longest notice time within each hour of a week without a change of the clocks, limits included."""
    cells: list[int | None] = [None] * (7 * HOURS_A_DAY)
    edges = np.arange(week[0], week[1] + 1, _HOUR_MS, dtype=np.int64)
    for curve in counted(told, limit):
        start, end = max(int(curve.points[0]), week[0]), min(curve.end, week[1])
        if start < end:
            cut = curve.between(start, end).cut(edges)
            for at, longest in zip(_places(cut, week), _longest(cut), strict=True):
                before = cells[at]
                cells[at] = longest if before is None else _worse(before, longest)
    first = local_datetime(zone, week[0])
    shift = first.weekday() * HOURS_A_DAY + first.hour
    turned = [cells[(at - shift) % len(cells)] for at in range(len(cells))]
    return _alike([tuple(turned[day * HOURS_A_DAY : (day + 1) * HOURS_A_DAY]) for day in range(7)])


def _places(cut: Curve, week: Span) -> list[int]:
    found: list[int] = ((cut.points - week[0]) // _HOUR_MS).tolist()
    return found


def _longest(cut: Curve) -> list[int]:
    """Return the longest of each cell, its left end and the limit there included."""
    inside = np.where(cut.fixed, cut.value - cut.points, cut.value)
    at_start = cut.there - cut.points
    never = (cut.value == NEVER) | (cut.there == NEVER)
    found: list[int] = np.where(never, NEVER_TOLD, np.maximum(inside, at_start)).tolist()
    return found


def _worse(one: int, other: int) -> int:
    return NEVER_TOLD if NEVER_TOLD in (one, other) else max(one, other)


def _alike(days: Sequence[tuple[int | None, ...]]) -> list[DaysAlike]:
    found: dict[tuple[int | None, ...], list[int]] = {}
    for day, hours in enumerate(days):
        found.setdefault(hours, []).append(day)
    return [DaysAlike(tuple(alike), hours) for hours, alike in found.items()]
