"""A curve over the time of day that lies above all that was seen (Floeck and Litz, European Control Conf. 2009).

f(u) is the polynomial of fourth degree of least squares through the silence x on clock u in [0, 1), A the largest
x - f in history. Alarm where x > f(u) + (1 + q) A. Published with q = 0.1. Here x is read every five minutes, and at
the end of each silence for A; the crossing is found between two readings by a straight line.
"""

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from stillwell.limits.published.lived import DAY_MS, MINUTE_MS, Lived, Past
from stillwell.record.columns import Times
from stillwell.replay.distribution import NEVER_MS

TICK_MS: Final = 5 * MINUTE_MS
DEGREE: Final = 4
AHEAD: Final = 3 * DAY_MS // TICK_MS


def alarms(past: Past, today: NDArray[np.intp], settings: Sequence[float]) -> Times:
    """Tell when the silence crosses the curve, for each q."""
    lived = past.lived
    clock, silent = silences(lived, past.day)
    curve = fit(clock, silent)
    over = past.over
    ends_clock = (lived.local[over] + lived.lengths[over]) % DAY_MS / DAY_MS
    at_ends = lived.lengths[over] - value(curve, ends_clock)
    spike = max(float((silent - value(curve, clock)).max()), float(at_ends.max()))
    return np.array([crossing(lived, today, curve, (1 + q) * spike) for q in settings])


def silences(lived: Lived, day: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return (clock in [0, 1), silence in ms) every five minutes of all days before a day."""
    ticks = (lived.days[:day, 0][:, None] + np.arange(0, DAY_MS, TICK_MS)[None, :]).ravel()
    last = np.searchsorted(lived.times, ticks, "right") - 1
    clock = np.tile(np.arange(0, DAY_MS, TICK_MS) / DAY_MS, day)
    return clock, (ticks - lived.times[np.maximum(last, 0)]).astype(np.float64)


def fit(clock: NDArray[np.float64], silent: NDArray[np.float64]) -> NDArray[np.float64]:
    """The coefficients of least squares, of the lowest power first."""
    powers = clock[:, None] ** np.arange(DEGREE + 1)[None, :]
    return np.asarray(np.linalg.lstsq(powers, silent, rcond=None)[0], np.float64)


def value(curve: NDArray[np.float64], clock: NDArray[np.float64]) -> NDArray[np.float64]:
    """The polynomial at clock times in [0, 1)."""
    return np.asarray(np.polynomial.polynomial.polyval(clock, curve), np.float64)


def crossing(lived: Lived, today: NDArray[np.intp], curve: NDArray[np.float64], above: float) -> Times:
    """When a silence from each sign on first exceeds the curve raised by so much."""
    local, times = lived.local[today], lived.times[today]
    ticks = np.arange(AHEAD + 1) * TICK_MS
    day_curve = value(curve, np.arange(0, DAY_MS, TICK_MS) / DAY_MS) + above
    on_clock = ((local[:, None] + ticks[None, :]) % DAY_MS) / TICK_MS
    line = np.interp(on_clock, np.arange(len(day_curve) + 1), np.append(day_curve, day_curve[0]))
    excess = ticks[None, :] - line
    crossed = excess > 0
    at = crossed.argmax(1)
    rows = np.arange(len(today))
    before = excess[rows, np.maximum(at - 1, 0)]
    share = np.where(at > 0, -before / np.maximum(excess[rows, at] - before, 1e-9), 0.0)
    told: Times = times + ((np.maximum(at - 1, 0) + share) * TICK_MS).astype(np.int64)
    return np.where(crossed.any(1), told, NEVER_MS)
