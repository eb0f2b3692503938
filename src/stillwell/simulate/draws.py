"""Chance: one stream of random numbers per purpose, and the one long-tailed distribution used throughout."""

from typing import Final
from zlib import crc32

import numpy as np
from numpy.typing import ArrayLike, NDArray

TAIL_SHARE: Final = 0.08
TAIL_POWER: Final = 1.5


def stream(seed: int, *names: str) -> np.random.Generator:
    """Give the random stream of a purpose; a part added to the plan leaves the draws of all others as they were."""
    return np.random.default_rng([seed, *(crc32(name.encode()) for name in names)])


def long_tailed(
    rng: np.random.Generator, median: ArrayLike, spread: ArrayLike, *, tail: float = TAIL_SHARE
) -> NDArray[np.float64]:
    """Draw durations whose middle is log-normal and of which a share is stretched by a Pareto factor.

    ``median`` and ``spread`` (the standard deviation of the logarithm) are broadcast together; the answer has their
    shape and the unit of ``median``. The factor has P(X > x) = x**-1.5 for x >= 1: finite mean, infinite variance,
    as silence in real homes looks between its 99th and 99.9th percentile.
    """
    shape = np.broadcast(median, spread).shape
    body = np.asarray(median) * np.exp(np.asarray(spread) * rng.standard_normal(shape))
    stretch = (1.0 - rng.random(shape)) ** (-1.0 / TAIL_POWER)
    drawn: NDArray[np.float64] = np.where(rng.random(shape) < tail, body * stretch, body)
    return drawn
