"""Which messages arrive in time, at every onset: the hours of a hazard sorted by what would have to fail.

A message to one person on one channel is a *lane*. In a given world, with given faults of parts, an onset is told in
time unless every lane that would have told it in time is broken; so the smallest sets of lanes that decide a stretch
of onsets say exactly which people and ways out must fail together. Stretches alike in that are one class of hours.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from stillwell.alarms.telling import first_messages
from stillwell.engine.axis import cover
from stillwell.proof.curve import NEVER, Curve
from stillwell.proof.deadlines import Deadlines
from stillwell.proof.results import Raised
from stillwell.proof.tell import Telling
from stillwell.record.columns import Times

NOT_BEFORE = NEVER // 4
"""An instant after all others, far enough from the end of the numbers to be doubled."""


class Lane(NamedTuple):
    """A message to one person on one channel."""

    person: str
    channel: str


Needed: TypeAlias = frozenset[frozenset[Lane]]
"""Sets of lanes: where all lanes of one set are broken, nobody is told in time. The empty set: nobody is, anyway."""

LATE_ANYWAY: Needed = frozenset({frozenset()})

Stretches: TypeAlias = tuple[Times, Times]
"""Starts and ends, sorted, apart."""


@dataclass(frozen=True)
class Pattern:
    """What is needed at each onset: ``needs[i]`` from ``starts[i]`` on; the last to the end of the span."""

    starts: Times
    needs: tuple[Needed, ...]


class Lanes:
    """The lanes of a hazard's alarms against its deadlines, each worked out once."""

    def __init__(self, telling: Telling, limit: Deadlines, span: tuple[int, int]) -> None:
        self.telling = telling
        self.limit = limit
        self.span = span
        self._known: dict[tuple[str, bytes, bytes, bytes], Mapping[Lane, Stretches]] = {}

    def pattern(self, worlds: Sequence[Raised]) -> Pattern:
        """Return what is needed for an onset to be told in time in every one of the worlds."""
        start = np.array([self.span[0]], np.int64)
        if not worlds:
            return Pattern(start, (LATE_ANYWAY,))
        lanes = [self._in_time(raised) for raised in worlds]
        edges = [edge for each in lanes for stretches in each.values() for edge in stretches]
        starts = np.unique(np.concatenate([start, *edges]))
        starts = starts[(starts >= self.span[0]) & (starts < self.span[1])]
        names = [(number, lane) for number, each in enumerate(lanes) for lane in each]
        rows = np.array([_covered(lanes[number][lane], starts) for number, lane in names], bool)
        rows = rows.reshape(len(names), len(starts))
        columns, which = np.unique(rows, axis=1, return_inverse=True)
        needs = [_needed(names, column.tolist(), len(lanes)) for column in columns.T]
        return _joined(starts, [needs[number] for number in which.ravel().tolist()])

    def _in_time(self, raised: Raised) -> Mapping[Lane, Stretches]:
        """Return the onsets at which each lane tells in time: some alarm of the world is told so."""
        found: dict[Lane, list[Stretches]] = {}
        for call, curve in raised:
            for lane, stretches in self._of_alarm(call, curve).items():
                found.setdefault(lane, []).append(stretches)
        return {lane: _union(each) for lane, each in found.items()}

    def _of_alarm(self, call: str, curve: Curve) -> Mapping[Lane, Stretches]:
        key = call, curve.points.tobytes(), curve.fixed.tobytes(), curve.value.tobytes()
        if key not in self._known:
            found: dict[Lane, list[Stretches]] = {}
            for person, channel, after_ms in first_messages(self.telling.chain.lists[call]):
                shift = after_ms + self.telling.plan.people[person].channels[channel]
                stretches = self._stretches(curve, shift, self.telling.hours(person))
                found.setdefault(Lane(person, channel), []).append(stretches)
            self._known[key] = {lane: _union(each) for lane, each in found.items()}
        return self._known[key]

    def _stretches(self, curve: Curve, shift: int, hours: Stretches) -> Stretches:
        """Return the onsets at which a message that arrives ``shift`` after the alarm is noticed in time.

        Between neighbouring edges of the alarm's curve, the person's hours and the deadline the answer is the same:
        one onset inside decides it. Doubled, so that the middle of a cell is whole.
        """
        cut = curve.cut(self._edges(curve, shift, hours))
        starts, ends = hours
        middle = cut.points + cut.stops()
        never = cut.value == NEVER
        arrives = 2 * (np.where(never, 0, cut.value) + shift) + np.where(cut.fixed, 0, middle)
        noticed = np.maximum(2 * np.append(starts, NOT_BEFORE)[np.searchsorted(2 * ends, arrives, "right")], arrives)
        good = ~never & (noticed - middle <= 2 * self.limit.at(cut.points))
        return cover(cut.points[good], cut.stops()[good])

    def _edges(self, curve: Curve, shift: int, hours: Stretches) -> Times:
        starts, ends = hours
        allowed = sorted({self.limit.day_ms, self.limit.night_ms})
        follows = np.unique(curve.value[~curve.fixed]) + shift
        fixed = np.unique(curve.value[curve.fixed & (curve.value != NEVER)]) + shift
        index = np.searchsorted(ends, fixed, "right")
        noticed = np.maximum(np.append(starts, NOT_BEFORE)[index], fixed)
        found = [*self.limit.nights]
        found += [side - later for side in hours for later in follows.tolist()]
        found += [instants - before for instants in (starts, noticed) for before in allowed]
        every = np.concatenate(found)
        return every[(every > self.span[0]) & (every < self.span[1])]


def classes(patterns: Sequence[Pattern], counted: Stretches, span: tuple[int, int]) -> dict[tuple[Needed, ...], float]:
    """Return for each combination of needs its share of the counted onsets."""
    starts = np.unique(np.concatenate([*(pattern.starts for pattern in patterns), *counted]))
    starts = starts[(starts >= span[0]) & (starts < span[1])]
    lengths = np.where(_covered(counted, starts), np.append(starts[1:], span[1]) - starts, 0)
    at = [np.searchsorted(pattern.starts, starts, "right") - 1 for pattern in patterns]
    columns, which = np.unique(np.array(at), axis=1, return_inverse=True)
    total = np.bincount(which.ravel(), weights=lengths, minlength=columns.shape[1])
    found: dict[tuple[Needed, ...], float] = {}
    for column, length in zip(columns.T.tolist(), total.tolist(), strict=True):
        if length:
            key = tuple(pattern.needs[index] for pattern, index in zip(patterns, column, strict=True))
            found[key] = found.get(key, 0.0) + length
    whole = sum(found.values())
    return {key: length / whole for key, length in found.items()}


def smallest(sets: Iterable[frozenset[Lane]]) -> Needed:
    """Return the sets that contain no other: whoever breaks a larger one breaks these."""
    every = set(sets)
    return frozenset(one for one in every if not any(other < one for other in every))


def _needed(names: Sequence[tuple[int, Lane]], in_time: Sequence[bool], worlds: int) -> Needed:
    tells: list[set[Lane]] = [set() for _ in range(worlds)]
    for (number, lane), good in zip(names, in_time, strict=True):
        if good:
            tells[number].add(lane)
    return smallest(map(frozenset, tells))


def _joined(starts: Times, needs: Sequence[Needed]) -> Pattern:
    """Join neighbouring stretches that need the same."""
    keep = [number for number, each in enumerate(needs) if not number or each != needs[number - 1]]
    return Pattern(starts[keep], tuple(needs[number] for number in keep))


def _covered(stretches: Stretches, onsets: Times) -> NDArray[np.bool_]:
    starts, ends = stretches
    return np.searchsorted(starts, onsets, "right") > np.searchsorted(ends, onsets, "right")


def _union(each: Sequence[Stretches]) -> Stretches:
    if len(each) == 1:
        return each[0]
    return cover(np.concatenate([one[0] for one in each]), np.concatenate([one[1] for one in each]))
