"""P2: a curve over the time of day that lies above all that was seen (Floeck and Litz, European Control Conf. 2009).

f(u) is the polynomial of fourth degree of least squares through the silence x on clock u in [0, 1), A the largest
x - f in history. Alarm where x > f(u) + (1 + q) A. Published with q = 0.1; q is swept. Here x is read every five
minutes, and at the end of each silence for A; the crossing is found between two readings by a straight line.
"""

import numpy as np

from walkforward.stream import DAY_MS, MINUTE_MS, NEVER_MS, Past, Stream

NAME = "Floeck-Litz 2009"
SETTINGS = (*np.round(np.arange(-0.8, -0.42, 0.04), 2).tolist(), -0.4, -0.3, -0.2, -0.1, 0.0, 0.1, 0.2, 0.35, 0.5)
UNIT = "q"
TICK_MS = 5 * MINUTE_MS
DEGREE = 4
AHEAD = 3 * DAY_MS // TICK_MS


def alarms(past: Past, today: np.ndarray) -> np.ndarray:
    """Tell when the silence crosses the curve."""
    stream = past.stream
    clock, silent = silences(stream, past.day)
    curve = fit(clock, silent)
    over = past.over
    ends_clock = (stream.local[over] + (stream.ends - stream.times)[over]) % DAY_MS / DAY_MS
    at_ends = (stream.ends - stream.times)[over] - value(curve, ends_clock)
    spike = max(float((silent - value(curve, clock)).max()), float(at_ends.max()))
    return np.array([crossing(stream, today, curve, (1 + q) * spike) for q in SETTINGS])


def silences(stream: Stream, day: int) -> tuple[np.ndarray, np.ndarray]:
    """Return (clock in [0, 1), silence in ms) every five minutes of all days before a day."""
    ticks = (stream.days[:day, 0][:, None] + np.arange(0, DAY_MS, TICK_MS)[None, :]).ravel()
    last = np.searchsorted(stream.times, ticks, "right") - 1
    clock = np.tile(np.arange(0, DAY_MS, TICK_MS) / DAY_MS, day)
    return clock, (ticks - stream.times[np.maximum(last, 0)]).astype(np.float64)


def fit(clock: np.ndarray, silent: np.ndarray) -> np.ndarray:
    """The coefficients of least squares, of the lowest power first."""
    powers = clock[:, None] ** np.arange(DEGREE + 1)[None, :]
    return np.linalg.lstsq(powers, silent, rcond=None)[0]


def value(curve: np.ndarray, clock: np.ndarray) -> np.ndarray:
    """The polynomial at clock times in [0, 1)."""
    return np.polynomial.polynomial.polyval(clock, curve)


def crossing(stream: Stream, today: np.ndarray, curve: np.ndarray, above: float) -> np.ndarray:
    """When a silence from each sign on first exceeds the curve raised by so much."""
    local, times = stream.local[today], stream.times[today]
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
    told = times + ((np.maximum(at - 1, 0) + share) * TICK_MS).astype(np.int64)
    return np.where(crossed.any(1), told, NEVER_MS)
