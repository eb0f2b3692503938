"""The clock as a finite thing: stretches between two edges of the calendar, and which may follow which.

Stretches that look alike, and are followed by stretches that look alike, are one. Where the sun moves an edge from
day to day, stretches of nearly one length are one, with the shortest and the longest length that occurs.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final

import numpy as np

from stillwell.civiltime import Span
from stillwell.engine.axis import Axis, at, runs
from stillwell.engine.columns import Columns, Reports
from stillwell.engine.program import Program
from stillwell.proof.lines import has_sun
from stillwell.record.columns import TRUE, Pulses, Steps, Times

ALIKE_MS: Final = 30 * 60_000
"""Stretches whose lengths differ by less may be taken for one."""

AHEAD: Final = 8
"""So many stretches in a row must look alike for the first of them to be one."""

AHEAD_WITH_SUN: Final = 2


@dataclass(frozen=True)
class Stretch:
    """A sort of stretch: what the clock nodes are throughout it, which of them give a pulse as it begins, how long.

    ``after`` holds the numbers of the sorts that may follow; ``longest_ms`` is None where it never ends.
    """

    levels: Mapping[int, int]
    pulses: frozenset[int]
    shortest_ms: int
    longest_ms: int | None
    after: tuple[int, ...]


@dataclass(frozen=True)
class Hours:
    """The sorts of stretches, and the real ones in order: (start, end, sort)."""

    sorts: tuple[Stretch, ...]
    real: tuple[tuple[int, int, int], ...]


@dataclass
class Almanac:
    """The clock nodes of a program over a span of real time, each worked out once."""

    program: Program
    span: Span
    _columns: Columns = field(init=False)

    def __post_init__(self) -> None:
        self._columns = Columns(self.program, Axis.of_span(*self.span), Reports({}))

    def hours(self, nodes: Sequence[int]) -> Hours:
        """Return the clock as far as the nodes can tell."""
        levels = {node: self._columns.steps(node) for node in nodes if not self.program.is_pulse(node)}
        pulses = {node: self._columns.pulses(node) for node in nodes if self.program.is_pulse(node)}
        edges = _edges(levels, pulses, self.span)
        if len(edges) < 2:
            here = {node: int(steps.values[-1]) for node, steps in levels.items()}
            return Hours((Stretch(here, frozenset(), 0, None, ()),), ((*self.span, 0),))
        sun = has_sun(self.program, self.program.cone(nodes))
        return _sorted(edges, _looks(edges, levels, pulses), AHEAD_WITH_SUN if sun else AHEAD)

    def together(self, nodes: Sequence[int]) -> tuple[Times, Times]:
        """Return the stretches in which all the nodes are true; a pulse counts as a stretch of one millisecond."""
        axis = self._columns.axis
        starts, ends = axis.starts, axis.ends
        for node in nodes:
            column = self._columns.column(node)
            if isinstance(column, Pulses):
                starts, ends = _overlaps((starts, ends), (column.times, column.times + 1))
            else:
                starts, ends = _overlaps((starts, ends), runs(axis, column, TRUE))
        return starts, ends


def _overlaps(some: tuple[Times, Times], others: tuple[Times, Times]) -> tuple[Times, Times]:
    """Return the stretches that lie in both of two rows of stretches, each sorted and disjoint."""
    edges = np.unique(np.concatenate([*some, *others]))
    inside = [
        np.searchsorted(one[0], edges, "right") > np.searchsorted(one[1], edges, "right") for one in (some, others)
    ]
    both = np.flatnonzero(inside[0] & inside[1])
    return edges[both], edges[both + 1]


def _edges(levels: Mapping[int, Steps], pulses: Mapping[int, Pulses], span: Span) -> list[int]:
    times = [*(column.times for column in levels.values()), *(column.times for column in pulses.values())]
    every = np.unique(np.concatenate([np.empty(0, np.int64), *times]))
    return [int(time) for time in every if span[0] < time < span[1]]


_Look = tuple[tuple[tuple[int, int], ...], frozenset[int]]


def _looks(edges: Sequence[int], levels: Mapping[int, Steps], pulses: Mapping[int, Pulses]) -> list[_Look]:
    instants = np.array(edges, np.int64)
    values = {node: at(steps, instants).tolist() for node, steps in levels.items()}
    fired = {node: np.isin(instants, column.times).tolist() for node, column in pulses.items()}
    return [
        (
            tuple((node, values[node][number]) for node in levels),
            frozenset(node for node in pulses if fired[node][number]),
        )
        for number in range(len(edges))
    ]


def _sorted(edges: Sequence[int], looks: Sequence[_Look], ahead: int) -> Hours:
    lengths = [later - earlier for earlier, later in pairwise(edges)]
    labels = [(look, length // ALIKE_MS) for look, length in zip(looks, lengths, strict=False)]
    ahead = min(ahead, len(labels))
    rows = [tuple(labels[number : number + ahead]) for number in range(len(labels) - ahead + 1)]
    numbers = {row: number for number, row in enumerate(dict.fromkeys(rows))}
    of = [numbers[row] for row in rows]
    after: dict[int, dict[int, None]] = {number: {} for number in numbers.values()}
    for this, following in pairwise(of):
        after[this][following] = None
    spread: dict[int, list[int]] = {}
    for number, length in zip(of, lengths, strict=False):
        spread.setdefault(number, []).append(length)
    sorts = tuple(
        Stretch(
            dict(row[0][0][0]),
            row[0][0][1],
            min(spread[number]),
            max(spread[number]),
            tuple(after[number]) or (number,),
        )
        for row, number in numbers.items()
    )
    real = tuple((start, start + length, number) for start, length, number in zip(edges, lengths, of, strict=False))
    return Hours(sorts, real)
