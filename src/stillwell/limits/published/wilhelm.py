"""A score that grows with silence against past days' scores at that clock time (Wilhelm and Wahl, Sensors 24, 2024).

The score z grows by the second; a sign of life of certainty c cuts it to (1 - w c) of itself, w = min(1, age of that
part's last sign / (6 h (1 - c))). For each of the last 30 days of the same kind (workday or weekend) v is the largest
z in clock time +-1 h. Alarm where z > g min(max v, Q3 + 1.5 IQR). Published with g = 1.1. With c = 1 a sign ends the
silence, and z is how long it has lasted. The bound is worked out for every five minutes of the clock.
"""

from collections.abc import Sequence
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from stillwell.limits.published.lived import DAY_MS, HOUR_MS, MINUTE_MS, Lived, Past
from stillwell.record.columns import Times
from stillwell.replay.distribution import NEVER_MS

TICK_MS: Final = 5 * MINUTE_MS
TICKS: Final = DAY_MS // TICK_MS
WIDE: Final = HOUR_MS // TICK_MS
HISTORY_DAYS: Final = 30
AGE_MS: Final = 6 * HOUR_MS
AHEAD: Final = 3 * TICKS


def scores(lived: Lived, certainty: float) -> NDArray[np.float64]:
    """The score right after each sign, ms."""
    if certainty >= 1:
        return np.zeros(len(lived.times))
    after: list[float] = []
    before: dict[int, int] = {}
    score = 0.0
    last = int(lived.times[0])
    for time, part in zip(lived.times.tolist(), lived.part.tolist(), strict=True):
        score += time - last
        age = time - before.get(part, time - AGE_MS)
        score *= 1 - certainty * min(1.0, age / (AGE_MS * (1 - certainty)))
        before[part], last = time, time
        after.append(score)
    return np.array(after)


class Scored:
    """A home with its scores, and of each day the largest score about every five minutes of the clock."""

    def __init__(self, lived: Lived, certainty: float) -> None:
        self.after = scores(lived, certainty)
        first = int(lived.local[0] // TICK_MS)
        length = lived.lengths
        whole = int((lived.local[-1] + length[-1]) // TICK_MS) - first + 1
        # the score is largest at the end of each tick, or where a sign cuts it
        ends_local = (first + 1 + np.arange(whole)) * TICK_MS
        last = np.maximum(np.searchsorted(lived.local, ends_local, "right") - 1, 0)
        peaks = self.after[last] + np.maximum(ends_local - lived.local[last], 0)
        cut_at = np.clip((lived.local + length) // TICK_MS - first, 0, whole - 1)
        np.maximum.at(peaks, cut_at, self.after + length)
        days = lived.days[:, 0]
        offset = (lived.local - lived.times)[np.minimum(np.searchsorted(lived.times, days), len(lived.times) - 1)]
        number = (days + offset + HOUR_MS) // DAY_MS
        self.workday = (number + 3) % 7 < 5
        padded = np.concatenate([np.zeros(WIDE), peaks, np.zeros(TICKS + 2 * WIDE)])
        starts = number * TICKS - first
        reach = np.arange(TICKS)[:, None] + np.arange(2 * WIDE + 1)[None, :]
        self.about = np.array([padded[start + reach].max(1) for start in starts.tolist()])
        in_day = np.minimum(reach, TICKS - 1 + WIDE)
        # of the day just over nothing beyond midnight is known yet
        self.about_at_midnight = np.array([padded[start + in_day].max(1) for start in starts.tolist()])

    def bound(self, day: int) -> NDArray[np.float64]:
        """min(max v, Q3 + 1.5 IQR) for every five minutes of the clock, from the days before a day, ms."""
        alike = np.flatnonzero(self.workday[max(0, day - HISTORY_DAYS) : day] == self.workday[day])
        alike = alike + max(0, day - HISTORY_DAYS)
        if not len(alike):
            alike = np.arange(max(0, day - HISTORY_DAYS), day)
        past = self.about[alike]
        if alike[-1] == day - 1:
            past = np.vstack([past[:-1], self.about_at_midnight[day - 1]])
        lower, upper = np.quantile(past, (0.25, 0.75), axis=0)
        bound: NDArray[np.float64] = np.minimum(past.max(0), upper + 1.5 * (upper - lower))
        return bound


@lru_cache(maxsize=1)
def scored(lived: Lived, certainty: float) -> Scored:
    """Work the scores of a home out once."""
    return Scored(lived, certainty)


def alarms_with(past: Past, today: NDArray[np.intp], settings: Sequence[float], certainty: float) -> Times:
    """Tell when the score exceeds the bound of the clock time, for each g."""
    lived = past.lived
    known = scored(lived, certainty)
    bound = known.bound(past.day)
    local, times, after = lived.local[today], lived.times[today], known.after[today]
    ticks = local[:, None] // TICK_MS + np.arange(AHEAD)[None, :]
    level = bound[ticks % TICKS]
    end = (ticks + 1) * TICK_MS - local[:, None] + after[:, None]
    start = np.maximum(ticks * TICK_MS - local[:, None], 0) + after[:, None]
    rows = np.arange(len(today))
    told = []
    for g in settings:
        above = end > g * level
        at = above.argmax(1)
        score = np.maximum(g * level[rows, at], start[rows, at])
        when = times + np.maximum(score - after, 0).astype(np.int64)
        told.append(np.where(above.any(1), when, NEVER_MS))
    return np.array(told)
