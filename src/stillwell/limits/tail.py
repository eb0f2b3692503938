"""Beyond the longest seen: a generalised Pareto tail over a high threshold.

Pickands, Annals of Statistics 3 (1975): the excess over a high threshold is nearly generalised Pareto, with
P(excess > x) = (1 + shape x / scale) to the power -1 / shape. Fitted by maximum likelihood, the shape found by
Grimshaw's one-dimensional search (Technometrics 35, 1993) over theta = shape / scale. Few excesses say little about the
shape: a prior pulls it to 0, the exponential tail, unless it is switched off.
"""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

Numbers = NDArray[np.float64]

SHAPE_SPREAD: Final = 0.1
"""Standard deviation of the normal prior on the shape. No outside source: with it invented residents use
about as much of a budget of one false alarm in 180 days as of one in 30."""
_LEAST_EXCESSES: Final = 3
_SEARCH: Final = 400


@dataclass(frozen=True, slots=True)
class Tail:
    """``excesses`` values lay above ``threshold``; their excess is generalised Pareto with ``shape`` and ``scale``."""

    threshold: float
    shape: float
    scale: float
    excesses: int

    def expected_above(self, value: float) -> float:
        """Return how many of the values behind the fit were to be expected above one at or beyond the threshold."""
        excess = max(0.0, value - self.threshold)
        if abs(self.shape) < 1e-9:
            return self.excesses * math.exp(-excess / self.scale)
        base = 1 + self.shape * excess / self.scale
        return 0.0 if base <= 0 else self.excesses * float(base ** (-1 / self.shape))

    def value_exceeded(self, times: float) -> float:
        """Return the value that as many values as those behind the fit exceed so many ``times``; the threshold at
        least."""
        ratio = times / self.excesses
        if ratio >= 1:
            return self.threshold
        if abs(self.shape) < 1e-9:
            return self.threshold - self.scale * math.log(ratio)
        return float(self.threshold + self.scale / self.shape * (ratio**-self.shape - 1))


def fit_tail(values: Numbers, excesses: int, shape_spread: float | None = SHAPE_SPREAD) -> Tail:
    """Fit a tail to the largest ``excesses`` of some values; the threshold is the next one below.

    ``shape_spread`` None switches the prior off. With fewer than three distinct excesses the tail is exponential.
    """
    down = np.sort(values)[::-1]
    count = max(1, min(excesses, len(down) - 1))
    threshold = float(down[count]) if len(down) > 1 else 0.0
    above = down[:count] - threshold
    above = above[above > 0]
    if not len(above):
        return Tail(threshold, 0.0, max(1e-9, 0.1 * abs(threshold)), count)
    shape, scale = fit_pareto(above, shape_spread)
    return Tail(threshold, shape, scale, len(above))


def fit_pareto(excess: Numbers, shape_spread: float | None = SHAPE_SPREAD) -> tuple[float, float]:
    """Return shape and scale of the generalised Pareto distribution of positive excesses."""
    mean, most = float(excess.mean()), float(excess.max())
    if len(excess) < _LEAST_EXCESSES or most <= mean * (1 + 1e-9):
        return 0.0, mean
    # theta = shape / scale lies above -1 / max; the search is even in the logarithm of 1 + theta max
    theta = np.expm1(np.linspace(math.log(1e-4), math.log(1 + 50 * most / mean), _SEARCH)) / most
    for _ in range(4):
        likely = _likelihood(theta, excess, shape_spread)
        best = int(likely.argmax())
        low, high = theta[max(0, best - 1)], theta[min(len(theta) - 1, best + 1)]
        theta = np.linspace(low, high, 60)
    best_theta = float(theta[_likelihood(theta, excess, shape_spread).argmax()])
    if abs(best_theta) * mean < 1e-6:
        return 0.0, mean
    shape, scale = _given_theta(np.array([best_theta]), excess, shape_spread)
    return float(shape[0]), float(scale[0])


def _given_theta(theta: Numbers, excess: Numbers, shape_spread: float | None) -> tuple[Numbers, Numbers]:
    """The best shape for each theta = shape / scale, and the scale that goes with it.

    Without a prior the shape is the mean m of log(1 + theta x). With one of spread s the slope of the likelihood is 0
    where shape + shape^3 / (n s^2) = m, which Newton's method reaches from m without passing by.
    """
    mean = np.log1p(theta[:, None] * excess[None, :]).mean(axis=1)
    shape = mean.copy()
    if shape_spread is not None:
        held = len(excess) * shape_spread**2
        for _ in range(40):
            shape = shape - (shape + shape**3 / held - mean) / (1 + 3 * shape**2 / held)
    shape = np.where(np.abs(theta) < 1e-12, 1e-12, shape)
    return shape, shape / np.where(np.abs(theta) < 1e-12, 1e-12, theta)


def _likelihood(theta: Numbers, excess: Numbers, shape_spread: float | None) -> Numbers:
    shape, scale = _given_theta(theta, excess, shape_spread)
    logs = np.log1p(theta[:, None] * excess[None, :]).sum(axis=1)
    flat = np.abs(theta) * float(excess.mean()) < 1e-7
    mean = float(excess.mean())
    with np.errstate(divide="ignore", invalid="ignore"):
        found = -len(excess) * np.log(scale) - (1 / shape + 1) * logs
    found = np.where(flat, -len(excess) * (math.log(mean) + 1), found)
    # a shape below -1 has no maximum: the density runs to infinity at its end
    found = np.where(shape <= -1, -np.inf, found)
    if shape_spread is not None:
        found = found - np.where(flat, 0.0, shape) ** 2 / (2 * shape_spread**2)
    return np.nan_to_num(found, nan=-np.inf)
