"""Limits that spend a budget of false alarms where it buys most time.

For each context c (place of the last sign, half-hour of the day) let R_c(u) be how many silences a day last u or
longer. With the limit L_c it gives R_c(L_c) false alarms a day; and if somebody falls silent for good at any instant,
the expected delay is in proportion to the sum over contexts of the integral from 0 to L_c of R_c(u) (L_c - u) du. An
hour of delay may count for more at some onsets than at others (``worth``). To minimise that with no more than B false
alarms, each context minimises its own cost plus its own false alarms times one price common to all: what a false alarm
is worth in hours. The minimum is taken over the whole grid of limits, so that it is the best and not merely a place
where nothing changes. A higher price never gives a shorter limit: the alarms only fall with the limit.
"""

from collections.abc import Sequence
from functools import lru_cache
from typing import Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

from stillwell.limits.survival import HOUR_MS, LIMITS, STEP_MS, Rates

SHORTEST_MS: Final = HOUR_MS
"""No limit is shorter. To lie on the floor for longer than an hour is what the trade calls a long lie."""

Limits: TypeAlias = NDArray[np.int64]
"""(prices, places, slots): limits in ms."""


def limits_for(rates: Rates, prices: Sequence[float], worth: NDArray[np.float64] | float = 1.0) -> Limits:
    """Return the best limit of every context at each price, in hours for a false alarm.

    ``worth``, (slots, LIMITS), is what an hour of delay counts for an onset so long after a sign in each half-hour.
    """
    least = SHORTEST_MS // STEP_MS
    costs, alarms = delay_costs(rates * worth)[:, :, least:], rates[:, :, least:]
    paid = np.empty_like(costs)
    steps = np.empty((len(prices), *costs.shape[:2]), np.int64)
    for number, price in enumerate(prices):
        np.multiply(alarms, price, out=paid)
        paid += costs
        paid.argmin(axis=2, out=steps[number])
    found: Limits = (steps + least) * STEP_MS
    return found


def delay_costs(rates: Rates) -> Rates:
    """Return the hours of delay a day, times hours of onset, that each limit on the grid costs: like ``rates``."""
    costs: Rates = rates @ _hours_left()
    return costs


def total(found: Rates, limits: NDArray[np.int64]) -> float:
    """Return what all contexts come to at their limits, (places, slots) in ms: false alarms a day where ``found`` are
    rates, hours where they are costs."""
    step = np.minimum(limits // STEP_MS, LIMITS - 1)
    return float(np.take_along_axis(found, step[:, :, None], axis=2).sum())


@lru_cache(maxsize=1)
def _hours_left() -> NDArray[np.float64]:
    """The delay after each step of silence under each limit, times the step, in hours squared: (LIMITS, LIMITS)."""
    step_h = STEP_MS / HOUR_MS
    silent, limit = np.arange(LIMITS)[:, None], np.arange(LIMITS)[None, :]
    left: NDArray[np.float64] = np.maximum(limit - silent - 0.5, 0.0) * step_h * step_h
    return left
