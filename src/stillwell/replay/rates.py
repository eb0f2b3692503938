"""How often something happens, with an exact interval."""

import math
from collections.abc import Callable
from dataclasses import dataclass

DAY_MS = 86_400_000


@dataclass(frozen=True, slots=True)
class Rate:
    """Events per 30 days, with the exact two-sided 95 % interval of a Poisson rate."""

    count: int
    per_30_days: float
    low: float
    high: float


def rate(count: int, watched_ms: int) -> Rate:
    """Return the rate of ``count`` events in a watched time; without any watched time all is possible."""
    if watched_ms <= 0:
        return Rate(count, math.inf if count else 0.0, 0.0, math.inf)
    months = watched_ms / (30 * DAY_MS)
    low, high = poisson_interval(count)
    return Rate(count, count / months, low / months, high / months)


def poisson_interval(count: int, confidence: float = 0.95) -> tuple[float, float]:
    """Return the exact interval for the mean of a Poisson count.

    Garwood, Biometrika 28 (1936): the means at which a count so large, or so small, has probability (1 - c)/2.
    """
    tail = (1 - confidence) / 2
    low = 0.0 if count == 0 else _solve(lambda mean: 1 - _at_most(count - 1, mean) - tail, count)
    return low, _solve(lambda mean: tail - _at_most(count, mean), count)


def _at_most(count: int, mean: float) -> float:
    """Return the probability that a Poisson variable does not exceed ``count``.

    Summed downwards from ``count`` until the rest no longer matters: about the root of the count terms.
    """
    term = total = 1.0
    for fewer in range(count, 0, -1):
        term *= fewer / mean
        total += term
        if term < 1e-17 * total:
            break
    return min(1.0, total * math.exp(count * math.log(mean) - mean - math.lgamma(count + 1)))


def _solve(rising: Callable[[float], float], near: int) -> float:
    """Return the zero of a rising function within ten standard deviations of ``near``."""
    reach = 10 * math.sqrt(near + 1) + 10
    low, high = max(0.0, near - reach), near + reach
    while low < (middle := (low + high) / 2) < high:
        if rising(middle) < 0:
            low = middle
        else:
            high = middle
    return middle
