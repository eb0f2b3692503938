"""A ladder of limits for one way to tell days apart, and how high on it a budget of false alarms leads.

1. Rates of silences by context and length, smoothed and pooled (``survival``).
2. A ladder: for a rising price of a false alarm the best limits of all contexts (``budget``). Each rung is nowhere
   shorter than the one below. What follows a sign at the way out by day is an outing and may last ``outing_ms``.
3. How high? The days are dealt into blocks; each block's silences climb the ladder that was learned from the other
   blocks. The rung at which a silence no longer raises an alarm is its score, never seen in learning. A generalised
   Pareto tail (``tail``) over the scores says which rung is exceeded as often as a budget allows, also where that is
   higher than any score yet.
"""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from stillwell.limits.budget import Limits, delay_costs, limits_for, total
from stillwell.limits.contexts import Contexts
from stillwell.limits.settings import Settings
from stillwell.limits.silences import Silences
from stillwell.limits.survival import HOUR_MS, LIMITS, SLOT_MINUTES, SLOTS, STEP_MS, STEPS, Counts, Rates, rates_by_kind
from stillwell.limits.tail import Tail, fit_tail

PRICES_H: Final = tuple(np.geomspace(0.3, 3e7, 256).tolist())
LEAST_EXCESSES: Final = 10
"""From fewer scores no tail is fitted, however short the record."""


@dataclass(frozen=True)
class Climb:
    """All silences counted, and their smoothed ``rates`` by context; the ladder (prices, contexts, slots) learned from
    them, in ms; their scores, which are sorted out of those that outlast the cap (``lost`` is how many do); and the
    tail of the scores."""

    contexts: Contexts
    counts: Counts
    rates: Rates
    ladder: Limits
    scores: NDArray[np.float64]
    tail: Tail
    lost: int
    told: Settings

    def rung(self, allowed: float) -> int:
        """Return the rung that is exceeded ``allowed`` times on as many days as were learned from."""
        return rung(self.scores, self.tail if self.told.tail else None, allowed)

    def mean_delay_h(self, rung: int) -> float:
        """Return how long after an onset at any instant of the silences a rung tells, on average weighed by worth."""
        ended_after = self.counts.reshape(-1, SLOTS, STEPS)[:, :, ::-1].cumsum(axis=2)[:, :, ::-1]
        silent = ended_after[:, :, :LIMITS] * worth(self.told)
        return total(delay_costs(silent), self.ladder[rung]) * HOUR_MS / STEP_MS / float(silent.sum())


def rung(scores: NDArray[np.float64], tail: Tail | None, allowed: float) -> int:
    """Return the rung that ``allowed`` of the scores exceed. Below the tail, or without one, the scores alone tell."""
    top = len(PRICES_H) - 1
    if tail is not None and allowed < tail.excesses:
        return min(top, max(0, math.ceil(tail.value_exceeded(allowed))))
    down = np.sort(scores)[::-1]
    return min(top, int(down[min(len(down) - 1, math.floor(allowed))]))


def climb(silences: Silences, contexts: Contexts, told: Settings) -> Climb:
    """Learn a ladder, and score the silences by it."""
    whole, days = contexts.counted(silences), contexts.days(silences)
    # No rung keeps what outlasts the cap from being an alarm: it must not drive the others up the ladder.
    lost = silences.length_ms >= told.longest_ms
    scores = _scores(silences, contexts, whole, told)[~lost]
    tail = fit_tail(scores, max(LEAST_EXCESSES, round(told.excesses_per_day * silences.days)), told.shape_spread)
    rates = _rates(whole, days, contexts, told)
    return Climb(contexts, whole, rates, _ladder(rates, contexts, told), scores, tail, int(lost.sum()), told)


def _scores(silences: Silences, contexts: Contexts, whole: Counts, told: Settings) -> NDArray[np.float64]:
    """Return for each silence the first rung on which it is no alarm, the ladder being learned from other blocks."""
    block = silences.day // told.block_days % told.blocks
    if not told.calibrated or len(np.unique(block)) < 2:
        block = silences.day % 2 if told.calibrated else np.zeros_like(silences.day)
    scores = np.zeros(len(silences.length_ms))
    for number in np.unique(block).tolist():
        out = block == number
        rest, days = whole, contexts.days(silences)
        if told.calibrated:
            rest, days = whole - contexts.counted(silences, out), contexts.days(silences, ~out)
        ladder = _ladder(_rates(rest, days, contexts, told), contexts, told)
        still = ladder[:, contexts.context[out], contexts.slot[out]] > silences.length_ms[out]
        scores[out] = np.where(still.any(axis=0), still.argmax(axis=0), len(ladder))
    return scores


def _rates(counts: Counts, days: NDArray[np.float64], contexts: Contexts, told: Settings) -> Rates:
    return rates_by_kind(counts, days, contexts.at_exit, told.smoothing).reshape(-1, SLOTS, LIMITS)


def _ladder(rates: Rates, contexts: Contexts, told: Settings) -> Limits:
    ladder = limits_for(rates, PRICES_H, worth(told))
    by_day = slice(told.outing_from_h * SLOTS // 24, told.outing_until_h * SLOTS // 24)
    outing = np.flatnonzero(np.outer(contexts.at_exit, contexts.outings))
    ladder[:, outing, by_day] = np.maximum(ladder[:, outing, by_day], told.outing_ms)
    return np.minimum(ladder, told.longest_ms)


def worth(told: Settings) -> NDArray[np.float64]:
    """Return what an hour of delay counts for an onset so long after a sign in each half-hour: (slots, LIMITS)."""
    slot_h = (np.arange(SLOTS) + 0.5) * SLOT_MINUTES / 60
    onset_h = (slot_h[:, None] + np.arange(LIMITS) * STEP_MS / HOUR_MS) % 24
    by_day = (onset_h >= told.day_from_h) & (onset_h < told.day_until_h)
    return np.where(by_day, told.by_day, 1.0)
