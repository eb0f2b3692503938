"""How often silences of each length come, by where the last sign was given and when; where data is thin, by the home.

Counts and rates have three axes: the place of the last sign (a group of parts), the half-hour of the local day in which
it came, and the length of the silence that followed, in steps of ten minutes up to thirteen hours. Where kinds of day
are told apart these are a fourth axis, after the place.

*Around the clock.* A silence that began at 22:00 and ended at 06:00 tells of one that begins at 23:00 that it may last
until 06:00, and also that it may last for eight hours. Which of the two holds depends on what people do: a night ends
by the clock, a nap by its length. So neighbouring half-hours lend each other weight (a normal kernel), and a silence of
an hour or more that is lent is made longer or shorter by half of what parts the two half-hours.

*Along the length.* Every silence might have been a little shorter or longer: it counts as normally distributed about
its own length, so that the longest one seen is not taken for the longest there can be.

*Over the home.* Each place is mixed with all inner places together at that time of day, as if ``pooled`` silences of
the home had followed a sign there. At the way out the chance of a long silence is read with a wide kernel, for outings
begin at many hours, and is the same for all parts there.
"""

from dataclasses import dataclass
from functools import lru_cache
from math import erf
from typing import Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

from stillwell.limits.silences import Silences

HOUR_MS: Final = 3_600_000
SLOT_MINUTES: Final = 30
SLOTS: Final = 24 * 60 // SLOT_MINUTES
STEP_MS: Final = 600_000
STEPS: Final = 13 * HOUR_MS // STEP_MS
LIMITS: Final = 12 * HOUR_MS // STEP_MS + 1
"""Limits are looked for on the grid 0, 10 min … 12 h."""
MOVED_LEAST: Final = HOUR_MS // STEP_MS
"""Shorter silences than these steps are lent as they are: they end soon, whatever the clock says."""

HARDLY_ANY: Final = 0.01
"""So many count as seen everywhere: where none was, the home's at that hour stand in, or those of all hours."""

Counts: TypeAlias = NDArray[np.float64]
"""(places, slots, STEPS) or (places, kinds, slots, STEPS): silences by the step of their length, the last step for all
that were longer."""

Rates: TypeAlias = NDArray[np.float64]
"""(places, slots, LIMITS): silences a day that last as long as each limit, or longer."""


@dataclass(frozen=True, slots=True)
class Smoothing:
    """How far a silence lends its weight. Widths are standard deviations in hours."""

    clock_h: float = 0.5
    exit_clock_h: float = 1.0
    shear: float = 0.5
    length_h: float = 0.65
    pooled: float = 5.0
    tied_days: float = 7.0


def counted(place: NDArray[np.int64], silences: Silences, places: int) -> Counts:
    """Count the silences by place, half-hour and length; ``place`` holds an index for each."""
    found: Counts = np.zeros((places, SLOTS, STEPS))
    step = np.minimum(silences.length_ms // STEP_MS, STEPS - 1)
    np.add.at(found, (place, slots_of(silences), step), 1.0)
    return found


def slots_of(silences: Silences) -> NDArray[np.int64]:
    """Return the half-hour of the local day in which each silence began."""
    slot: NDArray[np.int64] = silences.local_ms // (SLOT_MINUTES * 60_000) % SLOTS
    return slot


def rates_by_kind(
    counts: Counts, days: NDArray[np.float64], at_exit: NDArray[np.bool_], told: Smoothing
) -> NDArray[np.float64]:
    """Return smoothed rates a day for all kinds of day: (places, kinds, slots, LIMITS).

    ``counts`` are by place, kind, half-hour and length, ``days`` is how many of each kind there were. A kind leans on
    all days together as if ``tied_days`` more of it had been like them. The rates are for a day of any kind, so that
    they add up over kinds.
    """
    alike = rates_of(counts.sum(axis=1), max(1.0, float(days.sum())), at_exit, told)
    if len(days) == 1:
        return alike[:, None]
    found = np.empty((*counts.shape[:3], LIMITS))
    for kind, number in enumerate(days.tolist()):
        own = rates_of(counts[:, kind], max(1.0, number), at_exit, told)
        weight = number / (number + told.tied_days)
        found[:, kind] = (weight * own + (1 - weight) * alike) * number / max(1.0, days.sum())
    return found


def rates_of(counts: Counts, days: float, at_exit: NDArray[np.bool_], told: Smoothing) -> Rates:
    """Return smoothed rates a day. ``at_exit`` tells which places are at the way out."""
    lent = around_the_clock(counts, told.clock_h, told.shear)
    if at_exit.any():
        wide = around_the_clock(counts[at_exit], told.exit_clock_h, 0.0).sum(axis=0)
        chances = wide / np.maximum(wide.sum(axis=1, keepdims=True), 1e-9)
        lent[at_exit] = lent[at_exit].sum(axis=2, keepdims=True) * chances
    began = np.maximum(lent.sum(axis=2, keepdims=True), HARDLY_ANY)
    lasting: Rates = lent @ along_the_length(told.length_h)
    inner = lasting[~at_exit] if not at_exit.all() else lasting
    home = inner.sum(axis=0)
    at_any_hour = home.sum(axis=0) / max(float(home[:, 0].sum()), 1e-12)
    home = np.where(home[:, :1] < HARDLY_ANY, at_any_hour, home / np.maximum(home[:, :1], HARDLY_ANY))
    mixed: Rates = (lasting + told.pooled * home[None]) * (began / (began + told.pooled)) / days
    return mixed


def silent_h(counts: Counts, days: float) -> NDArray[np.float64]:
    """Return the hours of silence a day that follow signs: like ``counts``, without the length.

    Neighbouring half-hours are averaged over an hour either way, so that an hour without data counts for something.
    """
    lasting = counts @ ((np.arange(STEPS) + 0.5) * STEP_MS / HOUR_MS) / days
    flat = lasting.reshape(-1, SLOTS, 1)
    found: NDArray[np.float64] = around_the_clock(flat, 1.0, 0.0).reshape(lasting.shape)
    return found


def around_the_clock(counts: Counts, width_h: float, shear: float) -> Counts:
    """Let half-hours lend each other silences, lengthened by ``shear`` of the time by which they began earlier."""
    reach = max(1, min(SLOTS // 2 - 1, round(6 * width_h * 60 / SLOT_MINUTES)))
    apart = np.arange(-reach, reach + 1)
    bell = np.exp(-0.5 * (apart * SLOT_MINUTES / 60 / width_h) ** 2)
    around = np.concatenate((counts[:, SLOTS - reach :], counts, counts[:, :reach]), axis=1)
    found: Counts = np.zeros_like(counts)
    for later, weight in zip(apart.tolist(), (bell / bell.sum()).tolist(), strict=True):
        lent = weight * around[:, reach + later : reach + later + SLOTS]
        _add_lengthened(found, lent, round(shear * later * SLOT_MINUTES * 60_000 / STEP_MS))
    return found


def _add_lengthened(found: Counts, lent: Counts, steps: int) -> None:
    """Add silences, all but the short ones longer by some steps, or shorter; what was longest may be longer still."""
    if not steps:
        found += lent
        return
    found[:, :, :MOVED_LEAST] += lent[:, :, :MOVED_LEAST]
    long = lent[:, :, MOVED_LEAST:]
    if steps > 0:
        found[:, :, MOVED_LEAST + steps :] += long[:, :, :-steps]
        found[:, :, -1] += long[:, :, -steps:].sum(axis=2)
    else:
        start = max(0, MOVED_LEAST + steps)
        found[:, :, start : start + long.shape[2]] += long


@lru_cache(maxsize=8)
def along_the_length(width_h: float) -> NDArray[np.float64]:
    """Return the chance that a silence of each step is at least as long as each limit: (STEPS, LIMITS)."""
    length_h = (np.arange(STEPS) + 0.5) * STEP_MS / HOUR_MS
    limit_h = np.arange(LIMITS) * STEP_MS / HOUR_MS
    apart = (length_h[:, None] - limit_h[None, :]) / width_h
    chances = 0.5 * (1 + np.vectorize(erf)(apart / np.sqrt(2)))
    chances[:, 0] = 1.0
    chances[-1] = 1.0
    found: NDArray[np.float64] = chances
    return found
