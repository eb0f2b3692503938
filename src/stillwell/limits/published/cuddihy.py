"""An alert line by half-hour of the day (Cuddihy, Weisenberg, Graichen and Ganesh, HealthNet 2007).

At each half-hour i of the last 60 days, D_i is how long it had been silent. m(i) = sorted(D_i)[floor(0.97 n)],
M(i) = max of m over two slots either way, UB = 0.30 m(i), VB = 1/9 sum of (1, 2, 3, 2, 1) 0.40 m over the same slots.
Alarm at a slot's edge where the silence exceeds k (M + UB + VB). Published with k = 1.
"""

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from stillwell.limits.published.lived import MINUTE_MS, Lived, Past
from stillwell.record.columns import Times
from stillwell.replay.distribution import NEVER_MS

SLOT_MS: Final = 30 * MINUTE_MS
SLOTS: Final = 48
HISTORY_DAYS: Final = 60
PERCENTILE: Final = 0.97
BLUR: Final = (1, 2, 3, 2, 1)
AHEAD: Final = 4 * SLOTS


def alarms(past: Past, today: NDArray[np.intp], settings: Sequence[float]) -> Times:
    """Tell at the first half-hour edge at which the silence is above the line, for each k."""
    line = alert_line(silences_at_slots(past.lived, past.day))
    local, times = past.lived.local[today], past.lived.times[today]
    first = -(-local // SLOT_MS)
    edges = first[:, None] + np.arange(AHEAD)[None, :]
    silent = edges * SLOT_MS - local[:, None]
    at_edges = line[edges % SLOTS]
    found = []
    for k in settings:
        above = silent > k * at_edges
        at = above.argmax(1)
        told = times + (edges[np.arange(len(today)), at] * SLOT_MS - local)
        found.append(np.where(above.any(1), told, NEVER_MS))
    return np.array(found)


def silences_at_slots(lived: Lived, day: int) -> NDArray[np.float64]:
    """How long it had been silent at each half-hour edge of the last 60 days before a day: (days, 48), ms."""
    starts = lived.days[max(0, day - HISTORY_DAYS) : day, 0]
    edges = starts[:, None] + np.arange(SLOTS)[None, :] * SLOT_MS
    last = np.searchsorted(lived.times, edges, "right") - 1
    return (edges - lived.times[np.maximum(last, 0)]).astype(np.float64)


def alert_line(silences: NDArray[np.float64]) -> NDArray[np.float64]:
    """The line M + UB + VB for each half-hour, in the unit of the silences (days, 48)."""
    days = len(silences)
    m = np.sort(silences, axis=0)[int(np.floor(PERCENTILE * days))]
    around = np.array([np.roll(m, -shift) for shift in (-2, -1, 0, 1, 2)])
    buffer = 0.30 * m + (np.array(BLUR)[:, None] * 0.40 * around).sum(0) / 9
    line: NDArray[np.float64] = around.max(0) + buffer
    return line
