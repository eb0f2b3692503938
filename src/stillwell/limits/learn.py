"""From the silences of a home to limits that keep to a budget of false alarms.

1. Rates of silences by place, time of day and length, smoothed and pooled (``survival``).
2. A ladder of limits: for a rising price of a false alarm the best limits of all contexts (``budget``). Each rung is
   nowhere shorter than the one below.
3. How high on the ladder? The days are dealt into blocks; each block's silences climb the ladder that was learned from
   the other blocks. The rung at which a silence no longer raises an alarm is its score, never seen in learning. A
   generalised Pareto tail (``tail``) over the scores says which rung is exceeded as often as the budget allows, also
   where that is higher than any score yet.
4. The cap, whatever the ladder says; what follows a sign at the way out in the day is an outing and may last as long as
   ``outing_ms`` at least. The rungs for two budgets are of one ladder, so that the patient alarm is never the earlier.
"""

import math
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from stillwell.limits.bands import BAND_COSTS, banded
from stillwell.limits.budget import FLATTENED, Limits, limits_for
from stillwell.limits.silences import Silences
from stillwell.limits.survival import (
    HOUR_MS,
    SLOT_MINUTES,
    SLOTS,
    Smoothing,
    counted,
    rates_of,
    silent_h,
    slots_of,
)
from stillwell.limits.table import LimitRow, LimitTable, rows_of
from stillwell.limits.tail import SHAPE_SPREAD, Tail, fit_tail

LONGEST_MS: Final = 12 * HOUR_MS
PRICES_H: Final = tuple(np.geomspace(0.3, 3e7, 64).tolist())
LEAST_DAYS: Final = 2
LEAST_SILENT_H: Final = 0.02
"""Every place and half-hour counts for so many silent hours a day in the choice of bands, heard or not."""


@dataclass(frozen=True, slots=True)
class Settings:
    """What the learner is told. Frozen after the development homes; ablations switch parts of it off.

    ``spent``: the share of the budget that is aimed at; the rest is for what the learning itself gets wrong.
    ``own_place``: a part has limits of its own if so much of the silent time follows its signs. ``rooms``, ``tail``,
    ``calibrated``: False leaves the place, the tail, or the blocks of step 3 out.
    """

    longest_ms: int = LONGEST_MS
    outing_ms: int = 8 * HOUR_MS
    outing_from_h: int = 7
    outing_until_h: int = 21
    smoothing: Smoothing = field(default_factory=Smoothing)
    flattened: float = FLATTENED
    spent: float = 0.7
    blocks: int = 6
    block_days: int = 7
    own_place: float = 0.1
    excesses_per_day: float = 1.0
    shape_spread: float | None = SHAPE_SPREAD
    band_costs: float = BAND_COSTS
    rooms: bool = True
    tail: bool = True
    calibrated: bool = True


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
    places, groups = places_of(silences, exits, told)
    at_exit = np.array([any(part in exits for part in group) for group in groups])
    slot, place = slots_of(silences), places[silences.part]
    scores = _scores(silences, place, slot, at_exit, told)
    whole = counted(place, silences, len(groups))
    ladder = _ladder(whole, silences.days, at_exit, told)
    # No rung keeps what outlasts the cap from being an alarm: it must not drive the others up the ladder.
    lost = silences.length_ms >= told.longest_ms
    tail = fit_tail(scores[~lost], max(10, round(told.excesses_per_day * silences.days)), told.shape_spread)
    silent = np.maximum(silent_h(whole, silences.days), LEAST_SILENT_H)
    found: dict[float, Learned] = {}
    before = np.zeros_like(ladder[0])
    for per_day in sorted(budgets_per_day, reverse=True):
        rung = _rung(scores[~lost], tail, per_day * told.spent * silences.days, told)
        before = np.maximum(_bands(ladder[rung], silent, told.band_costs), before)
        table = LimitTable(tuple(_rows(groups, before)), told.longest_ms)
        expected = (tail.expected_above(rung) + int(lost.sum())) / silences.days
        found[per_day] = Learned(table, per_day, expected, PRICES_H[rung], silences.days, tail)
    return [found[per_day] for per_day in budgets_per_day]


def places_of(
    silences: Silences, exits: Collection[str], told: Settings
) -> tuple[NDArray[np.int64], tuple[tuple[str, ...], ...]]:
    """Return the place of each part, and the parts of each place.

    A part after whose signs little of the silent time passes shares one place with the others of that kind; those at
    the way out stay apart. The shared place, named by no part, comes last: it stands for parts not seen yet, too.
    """
    if not told.rooms:
        return np.zeros(len(silences.parts), np.int64), ((),)
    lasted = np.minimum(silences.length_ms, told.longest_ms).astype(np.float64)
    share = np.bincount(silences.part, weights=lasted, minlength=len(silences.parts)) / lasted.sum()
    own = [
        index
        for index, part in enumerate(silences.parts)
        if share[index] >= told.own_place or (part in exits and share[index] > 0)
    ]
    places = np.full(len(silences.parts), len(own), np.int64)
    places[own] = np.arange(len(own))
    return places, (*((silences.parts[index],) for index in own), ())


def _scores(
    silences: Silences,
    place: NDArray[np.int64],
    slot: NDArray[np.int64],
    at_exit: NDArray[np.bool_],
    told: Settings,
) -> NDArray[np.float64]:
    """Return for each silence the first rung on which it is no alarm, the ladder being learned from other blocks."""
    block = silences.day // told.block_days % told.blocks
    if not told.calibrated or len(np.unique(block)) < 2:
        block = silences.day % 2 if told.calibrated else np.zeros_like(silences.day)
    scores = np.zeros(len(silences.length_ms))
    whole = counted(place, silences, len(at_exit))
    for number in np.unique(block).tolist():
        out = block == number
        rest, days = whole, silences.days
        if told.calibrated:
            rest = whole - counted(place[out], silences.pick(out), len(at_exit))
            days = max(1, len(np.unique(silences.day[~out])))
        ladder = _ladder(rest, days, at_exit, told)
        still = ladder[:, place[out], slot[out]] > silences.length_ms[out]
        scores[out] = np.where(still.any(axis=0), still.argmax(axis=0), len(ladder))
    return scores


def _ladder(counts: NDArray[np.float64], days: float, at_exit: NDArray[np.bool_], told: Settings) -> Limits:
    ladder = limits_for(rates_of(counts, days, at_exit, told.smoothing), PRICES_H, told.flattened)
    by_day = slice(told.outing_from_h * SLOTS // 24, told.outing_until_h * SLOTS // 24)
    outing = np.flatnonzero(at_exit)
    ladder[:, outing, by_day] = np.maximum(ladder[:, outing, by_day], told.outing_ms)
    return np.minimum(ladder, told.longest_ms)


def _rung(scores: NDArray[np.float64], tail: Tail, allowed: float, told: Settings) -> int:
    """Return the rung that is exceeded ``allowed`` times on as many days as were learned from."""
    top = len(PRICES_H) - 1
    if told.tail:
        return min(top, max(0, math.ceil(tail.value_exceeded(allowed))))
    down = np.sort(scores)[::-1]
    return min(top, int(down[min(len(down) - 1, math.floor(allowed))]))


def _bands(limits: NDArray[np.int64], silent: NDArray[np.float64], band_costs: float) -> NDArray[np.int64]:
    lines = [banded(line, weights, band_costs) for line, weights in zip(limits.tolist(), silent.tolist(), strict=True)]
    return np.array(lines, np.int64)


def _rows(groups: Sequence[tuple[str, ...]], limits: NDArray[np.int64]) -> Iterator[LimitRow]:
    for group, line in zip(groups, limits.tolist(), strict=True):
        yield from rows_of(group, "any day", line, SLOT_MINUTES)
