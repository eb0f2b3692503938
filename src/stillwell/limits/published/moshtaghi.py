"""The tail of the gaps by room and hour of the day (Moshtaghi, Zukerman and Russell, UMUAI 25, 2015).

For each room and hour the last 50 gaps whose span touches that hour. Pareto: lam = n / sum ln(x_i / x_min), limit
x_min a^(-1/lam). Exponential tail: gaps from the largest down until std / mean reaches 1, theta = median(tail) / ln 2,
limit theta ln(1 / a) (a reading of the paper's hyper-exponential). The limit of the clock's hour counts, and may rise
no faster than the clock. With fewer than ten gaps the room's, else the home's last 50 stand in. Published with
a = 0.01. A patent application touches the method: it is here to be judged, and for nothing else.
"""

from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

from stillwell.limits.published.lived import HOUR_MS, Lived, Past
from stillwell.record.columns import Times
from stillwell.replay.distribution import NEVER_MS

LAST: Final = 50
LEAST: Final = 10
HOURS: Final = 24
AHEAD: Final = 4 * HOURS
SHORTEST_MS: Final = 1000.0

Tail: TypeAlias = Callable[[NDArray[np.float64], NDArray[np.float64]], NDArray[np.float64]]
"""From gaps, and chances a, to the gap that is exceeded with each chance, in the unit of the gaps."""
_Indices: TypeAlias = NDArray[np.intp]
_Samples: TypeAlias = tuple[NDArray[np.float64], _Indices, list[_Indices], list[list[_Indices]]]


def pareto_log_factor(gaps: NDArray[np.float64]) -> tuple[float, float]:
    """Return (base, slope): the Pareto limit is base * exp(slope * ln(1/a))."""
    least = float(gaps.min())
    spread = float(np.log(gaps / least).sum())
    return least, spread / len(gaps)


def pareto_limit(gaps: NDArray[np.float64], a: NDArray[np.float64]) -> NDArray[np.float64]:
    """The gap that a Pareto tail through all the gaps exceeds with each chance a, in the unit of the gaps."""
    base, slope = pareto_log_factor(gaps)
    # no longer than would fit a number
    limit: NDArray[np.float64] = base * np.exp(np.minimum(slope * np.log(1 / a), 20.0))
    return limit


def exponential_limit(gaps: NDArray[np.float64], a: NDArray[np.float64]) -> NDArray[np.float64]:
    """The gap that an exponential tail through the largest gaps exceeds with each chance a, in the unit of the gaps."""
    limit: NDArray[np.float64] = exponential_scale(gaps) * np.log(1 / a)
    return limit


def exponential_scale(gaps: NDArray[np.float64]) -> float:
    """theta = median(tail) / ln 2 of the largest gaps, taken in until their std / mean reaches 1."""
    down = np.sort(gaps)[::-1]
    count = np.arange(1, len(down) + 1)
    mean = np.cumsum(down) / count
    spread = np.sqrt(np.maximum(np.cumsum(down**2) / count - mean**2, 0.0))
    reached = spread >= mean
    taken = int(reached.argmax()) + 1 if reached.any() else len(down)
    median = (down[(taken - 1) // 2] + down[taken // 2]) / 2  # they stand in order
    return float(median) / float(np.log(2))


def limits(past: Past, settings: Sequence[float], by: Tail) -> NDArray[np.float64]:
    """The limit of each part and hour for each a: (settings, parts, 24), ms."""
    lived, chances = past.lived, np.array(settings)
    gaps, of_home, of_parts, of_cells = _samples(lived)
    over = past.over_until
    home = gaps[_last(of_home, over)]
    found = np.empty((len(chances), len(lived.parts), HOURS))
    for part, of_part in enumerate(of_parts):
        room = gaps[_last(of_part, over)]
        instead = by(room if len(room) >= LEAST else home, chances)
        for hour in range(HOURS):
            cell = gaps[_last(of_cells[part][hour], over)]
            found[:, part, hour] = by(cell, chances) if len(cell) >= LEAST else instead
    return found


def _last(of: NDArray[np.intp], over: int) -> NDArray[np.intp]:
    """Return the last 50 of some silences, in order, that were over: those before index ``over``."""
    until = int(np.searchsorted(of, over))
    return of[max(0, until - LAST) : until]


@lru_cache(maxsize=1)
def _samples(lived: Lived) -> _Samples:
    """Return the gaps, and which of them may be learned from: of the home, of each part, of each part and hour."""
    gaps, touched = _touching(lived)
    home = np.flatnonzero(lived.judgeable)
    parts = [home[lived.part[home] == part] for part in range(len(lived.parts))]
    return gaps, home, parts, [[of[touched[of, hour]] for hour in range(HOURS)] for of in parts]


def _touching(lived: Lived) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Return the gaps in ms, and which hours of the clock each touches: (gaps, 24)."""
    gaps = np.maximum(lived.lengths.astype(np.float64), SHORTEST_MS)
    first = lived.local // HOUR_MS
    last = (lived.local + lived.lengths) // HOUR_MS
    touched = np.zeros((len(gaps), HOURS), bool)
    for ahead in range(HOURS):
        hour = first + ahead
        within = hour <= last
        touched[np.flatnonzero(within), (hour % HOURS)[within]] = True
    return gaps, touched


def clocked(hourly: NDArray[np.float64]) -> NDArray[np.float64]:
    """The limit at the start of each hour, where it may rise no faster than the clock: (..., 24), ms."""
    at_start = hourly.copy()
    for _ in range(2):  # once around the clock settles it, for no limit is below the least
        for hour in range(HOURS):
            before = np.minimum(hourly[..., hour - 1], at_start[..., hour - 1] + HOUR_MS)
            at_start[..., hour] = np.minimum(before, hourly[..., hour])
    return at_start


def crossing(past: Past, today: NDArray[np.intp], hourly: NDArray[np.float64]) -> Times:
    """When a silence from each sign on first exceeds the limit of the hour: (settings, signs)."""
    lived = past.lived
    local, times, part = lived.local[today], lived.times[today], lived.part[today]
    at_start = clocked(hourly)
    told: Times = np.full((len(hourly), len(today)), NEVER_MS)
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
        if (told != NEVER_MS).all():
            break
    return told


def alarms_by(past: Past, today: NDArray[np.intp], settings: Sequence[float], by: Tail) -> Times:
    """Tell when the silence exceeds the limit of part and hour, for each a."""
    return crossing(past, today, limits(past, settings, by))
