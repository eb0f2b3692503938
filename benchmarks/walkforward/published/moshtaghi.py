"""P3: the tail of the gaps by room and hour of the day (Moshtaghi, Zukerman and Russell, UMUAI 2015).

For each room and hour the last 50 gaps whose span touches that hour. Pareto: lam = n / sum ln(x_i / x_min), limit
x_min a^(-1/lam). Exponential tail: gaps from the largest down until std / mean reaches 1, theta = median(tail) / ln 2,
limit theta ln(1 / a) (a reading of the paper's hyper-exponential). The limit of the clock's hour counts, and may rise
no faster than the clock. With fewer than ten gaps the room's, else the home's last 50 stand in. a is swept; published
with a = 0.01.
"""

from functools import lru_cache

import numpy as np

from walkforward.stream import HOUR_MS, NEVER_MS, Past, Stream

SETTINGS = tuple(10.0**power for power in (-1, -1.5, -2, -2.5, -3, -3.5, -4, -5, -6, -7, -8, -10, -12, -16, -20))
UNIT = "a"
LAST = 50
LEAST = 10
HOURS = 24
AHEAD = 4 * HOURS
SHORTEST_MS = 1000.0


def pareto_log_factor(gaps: np.ndarray) -> tuple[float, float]:
    """Return (base, slope): the Pareto limit is base * exp(slope * ln(1/a))."""
    least = float(gaps.min())
    spread = float(np.log(gaps / least).sum())
    return least, spread / len(gaps)


def pareto_limit(gaps: np.ndarray, a: np.ndarray) -> np.ndarray:
    """The gap that a Pareto tail through all the gaps exceeds with each chance a, in the unit of the gaps."""
    base, slope = pareto_log_factor(gaps)
    # no longer than would fit a number
    return base * np.exp(np.minimum(slope * np.log(1 / a), 20.0))


def exponential_limit(gaps: np.ndarray, a: np.ndarray) -> np.ndarray:
    """The gap that an exponential tail through the largest gaps exceeds with each chance a, in the unit of the gaps."""
    return exponential_scale(gaps) * np.log(1 / a)


def exponential_scale(gaps: np.ndarray) -> float:
    """theta = median(tail) / ln 2 of the largest gaps, taken in until their std / mean reaches 1."""
    down = np.sort(gaps)[::-1]
    count = np.arange(1, len(down) + 1)
    mean = np.cumsum(down) / count
    spread = np.sqrt(np.maximum(np.cumsum(down**2) / count - mean**2, 0.0))
    reached = spread >= mean
    tail = down[: int(reached.argmax()) + 1] if reached.any() else down
    return float(np.median(tail)) / float(np.log(2))


def limits(past: Past, by) -> np.ndarray:
    """The limit of each part and hour for each setting: (settings, parts, 24), ms."""
    gaps, touched = _touching(past.stream)
    over = past.over
    home = _last(gaps, over)
    found = np.empty((len(SETTINGS), len(past.stream.parts), HOURS))
    for part in range(len(past.stream.parts)):
        of_part = over[past.stream.part[over] == part]
        room = _last(gaps, of_part)
        room = room if len(room) >= LEAST else home
        for hour in range(HOURS):
            cell = _last(gaps, of_part[touched[of_part, hour]])
            sample = cell if len(cell) >= LEAST else room
            found[:, part, hour] = by(sample, np.array(SETTINGS))
    return found


def _last(gaps: np.ndarray, of: np.ndarray) -> np.ndarray:
    return gaps[of[-LAST:]]


@lru_cache(maxsize=2)
def _touching(stream: Stream) -> tuple[np.ndarray, np.ndarray]:
    """Return the gaps in ms, and which hours of the clock each touches: (gaps, 24)."""
    gaps = np.maximum((stream.ends - stream.times).astype(np.float64), SHORTEST_MS)
    first = stream.local // HOUR_MS
    last = (stream.local + (stream.ends - stream.times)) // HOUR_MS
    touched = np.zeros((len(gaps), HOURS), bool)
    for ahead in range(HOURS):
        hour = first + ahead
        within = hour <= last
        touched[np.flatnonzero(within), (hour % HOURS)[within]] = True
    return gaps, touched


def clocked(hourly: np.ndarray) -> np.ndarray:
    """The limit at the start of each hour, where it may rise no faster than the clock: (..., 24), ms."""
    at_start = hourly.copy()
    for _ in range(2):  # once around the clock settles it, for no limit is below the least
        for hour in range(HOURS):
            before = np.minimum(hourly[..., hour - 1], at_start[..., hour - 1] + HOUR_MS)
            at_start[..., hour] = np.minimum(before, hourly[..., hour])
    return at_start


def crossing(past: Past, today: np.ndarray, hourly: np.ndarray) -> np.ndarray:
    """When a silence from each sign on first exceeds the limit of the hour: (settings, signs)."""
    stream = past.stream
    local, times, part = stream.local[today], stream.times[today], stream.part[today]
    at_start = clocked(hourly)
    told = np.full((len(hourly), len(today)), NEVER_MS)
    first = local // HOUR_MS
    for ahead in range(AHEAD):
        start = np.maximum((first + ahead) * HOUR_MS, local)
        end = (first + ahead + 1) * HOUR_MS
        hour = (first + ahead) % HOURS
        level, rising = hourly[:, part, hour], at_start[:, part, hour]
        opening = (first + ahead) * HOUR_MS
        now = np.minimum(level, rising + (start - opening)[None, :])
        silent = (start - local)[None, :]
        at_once = (silent > now) if ahead else np.zeros_like(now, bool)
        # along the rise limit and silence grow alike; they meet only where the limit is flat
        flat_from = opening[None, :] + (level - rising)
        meets = local[None, :] + level
        flat = (meets >= np.maximum(flat_from, start[None, :])) & (meets < end[None, :])
        when = np.where(at_once, start[None, :], np.where(flat, meets, np.inf))
        fresh = (told == NEVER_MS) & np.isfinite(when)
        told = np.where(fresh, times[None, :] + np.where(fresh, when - local[None, :], 0).astype(np.int64), told)
    return told


def alarms_by(past: Past, today: np.ndarray, by) -> np.ndarray:
    """Tell when the silence exceeds the limit of part and hour."""
    return crossing(past, today, limits(past, by))
