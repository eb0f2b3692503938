"""P1: an alert line by half-hour of the day (Cuddihy, Weisenberg, Graichen and Ganesh, HealthNet 2007).

At each half-hour i of the last 60 days, D_i is how long it had been silent. m(i) = sorted(D_i)[floor(0.97 n)],
M(i) = max of m over two slots either way, UB = 0.30 m(i), VB = 1/9 sum of (1, 2, 3, 2, 1) 0.40 m over the same slots.
Alarm at a slot's edge where the silence exceeds k (M + UB + VB). Published with k = 1; k is swept.
"""

import numpy as np

from walkforward.stream import MINUTE_MS, NEVER_MS, Past, Stream

NAME = "Cuddihy 2007"
SETTINGS = (*np.round(np.arange(0.4, 1.2, 0.05), 2).tolist(), 1.2, 1.35, 1.5, 1.75, 2.0, 2.5, 3.0)
UNIT = "k"
SLOT_MS = 30 * MINUTE_MS
SLOTS = 48
HISTORY_DAYS = 60
PERCENTILE = 0.97
BLUR = (1, 2, 3, 2, 1)
AHEAD = 4 * SLOTS


def alarms(past: Past, today: np.ndarray) -> np.ndarray:
    """Tell at the first half-hour edge at which the silence is above the line."""
    line = alert_line(silences_at_slots(past.stream, past.day))
    local, times = past.stream.local[today], past.stream.times[today]
    first = -(-local // SLOT_MS)
    edges = first[:, None] + np.arange(AHEAD)[None, :]
    silent = edges * SLOT_MS - local[:, None]
    # how many times its own line each silence is at each edge
    height = silent / line[edges % SLOTS]
    found = []
    for setting in SETTINGS:
        above = height > setting
        at = above.argmax(1)
        told = times + (edges[np.arange(len(today)), at] * SLOT_MS - local)
        found.append(np.where(above.any(1), told, NEVER_MS))
    return np.array(found)


def silences_at_slots(stream: Stream, day: int) -> np.ndarray:
    """How long it had been silent at each half-hour edge of the last 60 days before a day: (days, 48), ms."""
    starts = stream.days[max(0, day - HISTORY_DAYS) : day, 0]
    edges = starts[:, None] + np.arange(SLOTS)[None, :] * SLOT_MS
    last = np.searchsorted(stream.times, edges, "right") - 1
    return (edges - stream.times[np.maximum(last, 0)]).astype(np.float64)


def alert_line(silences: np.ndarray) -> np.ndarray:
    """The line M + UB + VB for each half-hour, in the unit of the silences (days, 48)."""
    days = len(silences)
    m = np.sort(silences, axis=0)[int(np.floor(PERCENTILE * days))]
    around = np.array([np.roll(m, -shift) for shift in (-2, -1, 0, 1, 2)])
    buffer = 0.30 * m + (np.array(BLUR)[:, None] * 0.40 * around).sum(0) / 9
    return around.max(0) + buffer
