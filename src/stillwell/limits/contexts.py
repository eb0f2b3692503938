"""What a limit may depend on: the place of the last sign, the kind of day, and the half-hour.

A *place* is a part, or all those together after whose signs little of the silent time passes. A context is a place on
one kind of day; contexts are numbered place by place.
"""

from collections.abc import Collection
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from stillwell.limits.settings import Settings, Week
from stillwell.limits.silences import Silences
from stillwell.limits.survival import HOUR_MS, SLOTS, STEPS, Counts, counted, slots_of
from stillwell.limits.table import weekday

OUTING_MS: Final = 2 * HOUR_MS
"""So long a silence by day after a sign at the way out is taken for an outing."""
OFTEN_OUT: Final = 0.25
SELDOM: Final = 0.25
"""Where on so many of the last kind of days there is an outing, and on others so many times fewer, these others are
days to stay in. No outside source."""


@dataclass(frozen=True)
class Contexts:
    """The contexts of some silences.

    ``groups`` holds the parts of each place (none: all others), ``at_exit`` which places are at the way out, ``week``
    the kinds of day, and ``outings`` on which of them an outing may be long. Of each silence ``place``, ``kind`` and
    ``slot`` (the half-hour) are indices.
    """

    groups: tuple[tuple[str, ...], ...]
    at_exit: NDArray[np.bool_]
    week: Week
    outings: NDArray[np.bool_]
    place: NDArray[np.int64]
    kind: NDArray[np.int64]
    slot: NDArray[np.int64]

    @property
    def context(self) -> NDArray[np.int64]:
        """The context of each silence."""
        return self.place * len(self.week) + self.kind

    def counted(self, silences: Silences, keep: NDArray[np.bool_] | None = None) -> Counts:
        """Count silences by place, kind of day, half-hour and length."""
        some, of = (silences, self.context) if keep is None else (silences.pick(keep), self.context[keep])
        shape = len(self.groups), len(self.week)
        return counted(of, some, shape[0] * shape[1]).reshape(*shape, SLOTS, STEPS)

    def days(self, silences: Silences, keep: NDArray[np.bool_] | None = None) -> NDArray[np.float64]:
        """Return how many days of each kind silences are from."""
        return _days(silences, self.kind, len(self.week), keep)


def contexts_of(silences: Silences, exits: Collection[str], week: Week, told: Settings) -> Contexts:
    """Return the contexts of silences for kinds of day."""
    places, groups = places_of(silences, exits, told)
    at_exit = np.array([any(part in exits for part in group) for group in groups])
    kind = np.zeros(len(silences.part), np.int64)
    for number, days in enumerate(week):
        kind[np.isin(weekday(silences.local_ms), list(days))] = number
    place, slot = places[silences.part], slots_of(silences)
    by_day = (slot >= told.outing_from_h * SLOTS // 24) & (slot < told.outing_until_h * SLOTS // 24)
    out = at_exit[place] & by_day & (silences.length_ms >= OUTING_MS)
    shares = _days(silences, kind, len(week), out) / np.maximum(1, _days(silences, kind, len(week)))
    seldom = (shares[-1] >= OFTEN_OUT) & (shares <= SELDOM * shares[-1])
    return Contexts(groups, at_exit, week, ~seldom, place, kind, slot)


def _days(
    silences: Silences, kind: NDArray[np.int64], kinds: int, keep: NDArray[np.bool_] | None = None
) -> NDArray[np.float64]:
    day, of = (silences.day, kind) if keep is None else (silences.day[keep], kind[keep])
    first = np.unique(day, return_index=True)[1]
    return np.bincount(of[first], minlength=kinds).astype(np.float64)


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
