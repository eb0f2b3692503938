"""Whether the routine has moved since limits were learned.

Five figures describe a day: when it begins and ends (a twentieth, and nineteen twentieths, of its signs of life), how
many signs of life it has, its longest silence by day and its longest by night. The latest days are compared with those
learned from by ranks (Mann and Whitney, Ann. Math. Stat. 18, 1947; normal approximation with ties), each figure at
1 % shared among the five, and told only if the median moved by enough to matter: a longer record makes small
differences certain, not important.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import Final, Literal, TypeAlias
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from stillwell.civiltime import offset_ms
from stillwell.limits.cleaning import Cleaned, Day
from stillwell.limits.trust import life_times
from stillwell.record.columns import Times
from stillwell.record.presence import DAY_MS, HOUR_MS

RECENT_DAYS: Final = 14
FEWEST_DAYS: Final = 7
DOUBT: Final = 0.01
NIGHT_ENDS_MS: Final = 4 * HOUR_MS
"""A day's signs are counted from four in the morning, so that somebody who goes to bed late ends the day late."""
MORNING_MS: Final = 8 * HOUR_MS
EVENING_MS: Final = 22 * HOUR_MS
FEWEST_SIGNS: Final = 10

Figure: TypeAlias = Literal["begins", "ends", "signs", "silence by day", "silence by night"]
FIGURES: Final[tuple[Figure, ...]] = ("begins", "ends", "signs", "silence by day", "silence by night")
MATTERS: Final = {"begins": 45.0, "ends": 45.0, "signs": 0.35, "silence by day": 60.0, "silence by night": 60.0}
"""By how much the median must have moved: minutes, and for the signs of life a share."""


@dataclass(frozen=True, slots=True)
class Moved:
    """A figure of the day that moved: medians before and of late. Minutes after midnight (begins, ends), a number a
    day (signs) or minutes (silences)."""

    figure: Figure
    before: float
    recent: float
    days: tuple[int, int]


def drift(cleaned: Cleaned, learned_until_ms: int | None = None, recent_days: int = RECENT_DAYS) -> list[Moved]:
    """Return what has moved: days since ``learned_until_ms`` against those before it.

    Without that instant, the last ``recent_days`` against the rest. Nothing is told from fewer than a week a side.
    """
    days = cleaned.used
    if learned_until_ms is None:
        before, recent = days[:-recent_days], days[-recent_days:]
    else:
        before = tuple(day for day in days if day.end_ms <= learned_until_ms)
        recent = tuple(day for day in days if day.start_ms >= learned_until_ms)[-recent_days:]
    if min(len(before), len(recent)) < FEWEST_DAYS:
        return []
    life = life_times(cleaned.record, cleaned.life)
    zone = ZoneInfo(cleaned.record.zone)
    one, other = _figures(life, before, zone), _figures(life, recent, zone)
    found = []
    for number, figure in enumerate(FIGURES):
        a, b = one[:, number], other[:, number]
        a, b = a[np.isfinite(a)], b[np.isfinite(b)]
        if min(len(a), len(b)) < FEWEST_DAYS:
            continue
        was, now = float(np.median(a)), float(np.median(b))
        moved = abs(now - was) / was if figure == "signs" and was else abs(now - was)
        if moved >= MATTERS[figure] and rank_doubt(a, b) < DOUBT / len(FIGURES):
            found.append(Moved(figure, was, now, (len(a), len(b))))
    return found


def rank_doubt(one: NDArray[np.float64], other: NDArray[np.float64]) -> float:
    """Return the two-sided p-value of the rank sum test, with the corrections for ties and for whole numbers."""
    n, m = len(one), len(other)
    values, places, counts = np.unique(np.concatenate([one, other]), return_inverse=True, return_counts=True)
    ranks = (np.cumsum(counts) - (counts - 1) / 2)[places]
    u = float(ranks[:n].sum()) - n * (n + 1) / 2
    total = n + m
    ties = float((counts.astype(np.float64) ** 3 - counts).sum()) / (total * (total - 1))
    spread = math.sqrt(n * m / 12 * (total + 1 - ties))
    if len(values) < 2 or spread == 0:
        return 1.0
    away = max(0.0, abs(u - n * m / 2) - 0.5) / spread
    return 2 * (1 - NormalDist().cdf(away))


def _figures(life: Times, days: Sequence[Day], zone: ZoneInfo) -> NDArray[np.float64]:
    """Return the five figures of each day, one row a day; what a day cannot tell is not a number."""
    rows = []
    for day in days:
        midnight = day.start_ms
        own = life[np.searchsorted(life, midnight + NIGHT_ENDS_MS) : np.searchsorted(life, day.end_ms + NIGHT_ENDS_MS)]
        shift = offset_ms(zone, day.end_ms - 1) - offset_ms(zone, midnight)
        if len(own) < FEWEST_SIGNS:
            rows.append([math.nan, math.nan, float(len(own)), math.nan, math.nan])
            continue
        begins, ends = (float(own[int(len(own) * share)] - midnight + shift) / 60_000 for share in (0.05, 0.95))
        by_day = _longest(life, midnight + MORNING_MS, midnight + EVENING_MS)
        by_night = _longest(life, midnight + EVENING_MS, midnight + DAY_MS + MORNING_MS)
        rows.append([begins, ends, float(len(own)), by_day, by_night])
    return np.array(rows, np.float64).reshape(-1, len(FIGURES))


def _longest(life: Times, start: int, end: int) -> float:
    """Return the longest silence that begins in [start, end), in minutes; not a number where it has not ended yet."""
    first, last = np.searchsorted(life, [start, end])
    own = life[first : last + 1]
    if len(own) < 2:
        return math.nan
    return float(np.diff(own).max()) / 60_000
