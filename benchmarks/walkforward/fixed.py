"""N1: one limit for all silences, at every hour and in every room."""

from collections.abc import Sequence

import numpy as np

from walkforward.stream import HOUR_MS, Past

NAME = "fixed limit"
SETTINGS = tuple(np.round(np.append(np.arange(2, 12, 0.25), np.arange(12, 25, 1)), 2).tolist())
UNIT = "h"


def alarms(past: Past, today: np.ndarray, settings: Sequence[float] = SETTINGS) -> np.ndarray:
    """Tell of a silence as soon as it has lasted as long as the limit."""
    limits = (np.array(settings) * HOUR_MS).astype(np.int64)
    return past.lived.times[today][None, :] + limits[:, None]
