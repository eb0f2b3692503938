"""P4: a score that grows with silence against past days' scores at that clock time (Wilhelm and Wahl, Sensors 2024).

The score z grows by the second; a sign of life of certainty c cuts it to (1 - w c) of itself, w = min(1, age of that
part's last sign / (6 h (1 - c))). For each of the last 30 days of the same kind (workday or weekend) v is the largest
z in clock time +-1 h. Alarm where z > g min(max v, Q3 + 1.5 IQR). Published with g = 1.1; g is swept. With c = 1 a
sign ends the silence, and z is how long it has lasted. The bound is worked out for every five minutes of the clock.
"""

from functools import lru_cache

import numpy as np

from walkforward.stream import DAY_MS, HOUR_MS, MINUTE_MS, NEVER_MS, Past, Stream

SETTINGS = (0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.35, 1.5, 1.6, 1.75, 1.9, 2.0, 2.15, 2.3, 2.5, 2.75, 3.0, 3.5, 4.0)
UNIT = "g"
TICK_MS = 5 * MINUTE_MS
TICKS = DAY_MS // TICK_MS
WIDE = HOUR_MS // TICK_MS
HISTORY_DAYS = 30
AGE_MS = 6 * HOUR_MS
AHEAD = 3 * TICKS


def scores(stream: Stream, certainty: float) -> np.ndarray:
    """The score right after each sign, ms."""
    if certainty >= 1:
        return np.zeros(len(stream.times))
    after, score, before = [], 0.0, {}
    last = int(stream.times[0])
    for time, part in zip(stream.times.tolist(), stream.part.tolist(), strict=True):
        score += time - last
        age = time - before.get(part, time - AGE_MS)
        score *= 1 - certainty * min(1.0, age / (AGE_MS * (1 - certainty)))
        before[part], last = time, time
        after.append(score)
    return np.array(after)


class Scored:
    """A stream with its scores, and of each day the largest score about every five minutes of the clock."""

    def __init__(self, stream: Stream, certainty: float) -> None:
        self.after = scores(stream, certainty)
        first = int(stream.local[0] // TICK_MS)
        length = stream.ends - stream.times
        whole = int((stream.local[-1] + length[-1]) // TICK_MS) - first + 1
        peaks = np.zeros(whole)
        # the score is largest at the end of each tick, or where a sign cuts it
        ends_local = (first + 1 + np.arange(whole)) * TICK_MS
        last = np.maximum(np.searchsorted(stream.local, ends_local, "right") - 1, 0)
        peaks = self.after[last] + np.maximum(ends_local - stream.local[last], 0)
        cut_at = np.clip((stream.local + length) // TICK_MS - first, 0, whole - 1)
        np.maximum.at(peaks, cut_at, self.after + length)
        days = stream.days[:, 0]
        offset = (stream.local - stream.times)[np.minimum(np.searchsorted(stream.times, days), len(stream.times) - 1)]
        number = (days + offset + HOUR_MS) // DAY_MS
        self.workday = (number + 3) % 7 < 5
        padded = np.concatenate([np.zeros(WIDE), peaks, np.zeros(TICKS + 2 * WIDE)])
        starts = number * TICKS - first
        reach = np.arange(TICKS)[:, None] + np.arange(2 * WIDE + 1)[None, :]
        self.about = np.array([padded[start + reach].max(1) for start in starts.tolist()])
        in_day = np.minimum(reach, TICKS - 1 + WIDE)
        # of the day just over nothing beyond midnight is known yet
        self.about_at_midnight = np.array([padded[start + in_day].max(1) for start in starts.tolist()])

    def bound(self, day: int) -> np.ndarray:
        """min(max v, Q3 + 1.5 IQR) for every five minutes of the clock, from the days before a day, ms."""
        alike = np.flatnonzero(self.workday[max(0, day - HISTORY_DAYS) : day] == self.workday[day])
        alike = alike + max(0, day - HISTORY_DAYS)
        if not len(alike):
            alike = np.arange(max(0, day - HISTORY_DAYS), day)
        past = self.about[alike]
        if alike[-1] == day - 1:
            past = np.vstack([past[:-1], self.about_at_midnight[day - 1]])
        lower, upper = np.quantile(past, (0.25, 0.75), axis=0)
        return np.minimum(past.max(0), upper + 1.5 * (upper - lower))


@lru_cache(maxsize=4)
def scored_stream(stream: Stream, certainty: float) -> Scored:
    """Work the scores of a stream out once."""
    return Scored(stream, certainty)


def alarms_with(past: Past, today: np.ndarray, certainty: float) -> np.ndarray:
    """Tell when the score exceeds the bound of the clock time."""
    stream = past.stream
    scored = scored_stream(stream, certainty)
    bound = scored.bound(past.day)
    local, times = stream.local[today], stream.times[today]
    ticks = local[:, None] // TICK_MS + np.arange(AHEAD)[None, :]
    level = bound[ticks % TICKS]
    end = (ticks + 1) * TICK_MS - local[:, None] + scored.after[today][:, None]
    start = np.maximum(ticks * TICK_MS - local[:, None], 0) + scored.after[today][:, None]
    rows = np.arange(len(today))
    told = []
    for g in SETTINGS:
        above = end > g * level
        at = above.argmax(1)
        score = np.maximum(g * level[rows, at], start[rows, at])
        when = times + np.maximum(score - scored.after[today], 0).astype(np.int64)
        told.append(np.where(above.any(1), when, NEVER_MS))
    return np.array(told)
