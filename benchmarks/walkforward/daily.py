"""N2: somebody looks once a day, at 08:00, whether there was a sign of life of late."""

from collections.abc import Sequence

import numpy as np

from walkforward.stream import DAY_MS, HOUR_MS, Past

NAME = "daily look at 08:00"
SETTINGS = (4.0, 6.0, 8.0, 9.0, 10.0, 12.0, 16.0, 24.0)
UNIT = "h"


def alarms(past: Past, today: np.ndarray, settings: Sequence[float] = SETTINGS) -> np.ndarray:
    """Tell at the first 08:00 at which the last sign is as old as asked for."""
    local, times = past.lived.local[today], past.lived.times[today]
    old_enough = local[None, :] + (np.array(settings) * HOUR_MS).astype(np.int64)[:, None]
    looks = -(-(old_enough - 8 * HOUR_MS) // DAY_MS) * DAY_MS + 8 * HOUR_MS
    return times[None, :] + (looks - local[None, :])
