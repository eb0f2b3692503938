"""From the silences of a home to limits that keep to a budget of false alarms.

For each way to tell days apart a ladder of limits is learned, and it is found how high on it the budget leads
(``climb``). The way whose limits tell soonest is taken; days are told apart only where that saves enough. The rungs for
two budgets are of one ladder, so that the patient alarm is never the earlier.
"""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from stillwell.limits.bands import banded
from stillwell.limits.budget import total
from stillwell.limits.climb import PRICES_H, Climb, climb
from stillwell.limits.contexts import Contexts, contexts_of
from stillwell.limits.settings import Settings
from stillwell.limits.silences import Silences
from stillwell.limits.survival import HOUR_MS, SLOT_MINUTES, silent_h
from stillwell.limits.table import LimitRow, LimitTable, rows_of
from stillwell.limits.tail import Tail
from stillwell.plan.texts import EVERY_DAY

LEAST_DAYS: Final = 2
LEAST_SILENT_H: Final = 0.02
"""Every place and half-hour counts for so many silent hours a day in the choice of bands, heard or not."""
CHOSEN_AT_PER_DAY: Final = 1 / 30
"""The ways to tell days apart are compared at this budget, whatever is asked for."""


@dataclass(frozen=True)
class Learned:
    """Limits for one budget of ``per_day`` false alarms.

    ``expected_per_day`` is what the scores say the table gives: more than ``per_day`` where silences outlast the cap,
    or even the highest rung is exceeded more often; ``price_h`` is what a false alarm counts in hours of delay;
    ``days`` is how many were learned from.
    """

    table: LimitTable
    per_day: float
    expected_per_day: float
    price_h: float
    days: int
    tail: Tail = field(repr=False)


def learn(
    silences: Silences,
    budgets_per_day: Sequence[float],
    exits: Collection[str] = (),
    settings: Settings | None = None,
) -> list[Learned]:
    """Learn a table for each budget, in false alarms a day. ``exits`` names the parts at the way out.

    Whether the record carries such budgets at all is another question (``support``). At least LEAST_DAYS days must
    count and a silence be there, or ValueError is raised.
    """
    told = settings or Settings()
    if silences.days < LEAST_DAYS or not len(silences.length_ms):
        raise ValueError("nothing to learn from")
    best = _soonest(silences, exits, told)
    silent = np.maximum(silent_h(best.counts, silences.days), LEAST_SILENT_H)
    found: dict[float, Learned] = {}
    before = np.zeros_like(best.ladder[0])
    for per_day in sorted(budgets_per_day, reverse=True):
        rung = best.rung(_allowed(silences, per_day, told))
        before = np.maximum(_lowest(best, rung, silent, told.band_costs), before)
        table = LimitTable(tuple(_rows(best.contexts, before)), told.longest_ms)
        expected = (best.tail.expected_above(rung) + best.lost) / silences.days
        found[per_day] = Learned(table, per_day, expected, PRICES_H[rung], silences.days, best.tail)
    return [found[per_day] for per_day in budgets_per_day]


def _allowed(silences: Silences, per_day: float, told: Settings) -> float:
    """Return how many scores may lie above the rung: fewer than the budget gives where that itself is few."""
    budget = per_day * silences.days
    return budget * budget / (budget + told.unseen)


def _soonest(silences: Silences, exits: Collection[str], told: Settings) -> Climb:
    """Return the climb with the shortest mean delay; one that tells days apart must save ``apart_saves``."""

    def delay_h(one: Climb) -> float:
        found = one.mean_delay_h(one.rung(_allowed(silences, CHOSEN_AT_PER_DAY, told)))
        return found if len(one.contexts.week) == 1 else found / (1 - told.apart_saves)

    return min((climb(silences, contexts_of(silences, exits, week, told), told) for week in told.weeks), key=delay_h)


def _lowest(best: Climb, rung: int, silent: NDArray[np.float64], band_costs: float) -> NDArray[np.int64]:
    """Return limits in bands, which are longer than those they are made of, from as far down the ladder as they give no
    more false alarms than the rung itself would."""
    allowed = total(best.rates, best.ladder[rung])
    found = _bands(best.ladder[rung], silent, band_costs)
    for lower in range(rung - 1, -1, -1):
        longer = _bands(best.ladder[lower], silent, band_costs)
        if total(best.rates, longer) > allowed:
            break
        found = longer
    return found


def _bands(limits: NDArray[np.int64], silent: NDArray[np.float64], band_costs: float) -> NDArray[np.int64]:
    """Return limits (contexts, slots) in few bands; kinds of day share theirs where apart they are not worth the rows.

    ``silent``, (places, kinds, slots), is the silent time a day.
    """
    own = limits.reshape(silent.shape)
    found = np.empty_like(own)
    for place, (lines, weights) in enumerate(zip(own, silent, strict=True)):
        apart = [
            banded(line.tolist(), weight.tolist(), band_costs) for line, weight in zip(lines, weights, strict=True)
        ]
        alike = [banded(lines.max(axis=0).tolist(), weights.sum(axis=0).tolist(), band_costs)]
        costs = [
            band_costs * sum(_rows_in(line) for line in way) + ((np.array(way) - lines) * weights).sum() / HOUR_MS
            for way in (alike, apart)
        ]
        found[place] = alike if costs[0] <= costs[1] else apart
    return found.reshape(limits.shape)


def _rows_in(line: Sequence[int]) -> int:
    return 1 + int(np.count_nonzero(np.diff(line)))


def _rows(contexts: Contexts, limits: NDArray[np.int64]) -> Iterator[LimitRow]:
    kinds = len(contexts.week)
    for number, group in enumerate(contexts.groups):
        lines = limits[number * kinds : (number + 1) * kinds]
        alike = bool((lines == lines[0]).all())
        for days, line in zip((EVERY_DAY,) if alike else contexts.week, lines.tolist(), strict=False):
            yield from rows_of(group, days, line, SLOT_MINUTES)
