"""Where and when the last sign of life may have come, as far as a table of limits makes a difference.

A limit that hangs on the last sign falls due at s + L(s). Within a stretch in which no hour band begins or ends, L is
the same for signs of one sort, and the later sign falls due later. So the latest there is, is the onset itself, or the
last millisecond of a stretch before it: finitely many candidates for each onset. Where several silences are asked
about at once, a candidate counts unless another is at least as late for all of them. docs/proof.md has the argument.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import product

import numpy as np
from numpy.typing import NDArray

from stillwell.engine.axis import Axis, constant
from stillwell.engine.columns import Columns, Reports
from stillwell.engine.operators import count, limits, logic, reported, silence
from stillwell.engine.program import Program
from stillwell.proof.latest import Candidates, Grid, latest
from stillwell.record.columns import FALSE, TRUE, Column, Steps, Times

BLOCK_MS = 7 * 86_400_000
"""Candidates are worked out for whole weeks at a time."""


@dataclass(frozen=True, slots=True)
class Last:
    """How the last sign of a world is chosen.

    The candidate number ``slot`` of each onset, from parts that are not ``silent``; the reports of a ``late`` part come
    in up to ``late_ms`` after the onset.
    """

    slot: int = 0
    silent: frozenset[str] = frozenset()
    late: str = ""
    late_ms: int = 0


@dataclass(frozen=True, slots=True)
class Sort:
    """A sort of sign: the tails that give a pulse with it, which of the free levels are true then.

    ``leaves`` are the nodes of the signals that it may come from, ``signals`` what parts report there.
    ``door`` is the signal of a door to the outside that moved before it, ``door_ago_ms`` how long before.
    """

    tails: frozenset[int]
    true: frozenset[int]
    leaves: tuple[int, ...]
    signals: tuple[str, ...] = ()
    door: str = ""
    door_ago_ms: int = 0


@dataclass(frozen=True)
class Choices:
    """For each onset the candidates, of some ``kinds``, and when each of the silences ``nodes`` falls due after them.

    ``found`` is as ``latest`` gives it.
    """

    kinds: tuple[Sort, ...]
    nodes: tuple[int, ...]
    found: Candidates

    @property
    def slots(self) -> int:
        """Return how many candidates an onset may have."""
        return len(self.found.kind)

    def signs(self, slot: int, onsets: Times) -> tuple[Times, NDArray[np.intp]]:
        """Return the instant and the kind of the last sign for each onset."""
        found, row = self.found, min(slot, self.slots - 1)
        cell = np.searchsorted(found.starts, onsets, "right") - 1
        at_ms = found.at_ms[row, cell] + np.where(found.fixed[row, cell], 0, onsets)
        return at_ms, found.kind[row, cell]

    def instants(self, slot: int) -> Times:
        """Return the fixed instants of the last sign."""
        row = min(slot, self.slots - 1)
        return np.unique(self.found.at_ms[row][self.found.fixed[row]])

    def follows(self, slot: int) -> frozenset[int]:
        """Return how long after the onset the last sign may come where its instant is not fixed."""
        row = min(slot, self.slots - 1)
        return frozenset(np.unique(self.found.at_ms[row][~self.found.fixed[row]]).tolist())

    def due(self, node: int, slot: int) -> tuple[Times, frozenset[int]]:
        """Return when a silence falls due: fixed instants, and times after the onset."""
        row = min(slot, self.slots - 1)
        due, fixed = self.found.due[self.nodes.index(node), row], self.found.fixed[row]
        return np.unique(due[fixed]), frozenset(np.unique(due[~fixed]).tolist())


class LastSigns:
    """The candidates for the last sign, for the silences that some alarms ask about.

    ``tails`` are the pulse nodes that stand for signs of life as a whole, ``span`` the real time that may be asked for.
    """

    def __init__(self, program: Program, nodes: Sequence[int], tails: frozenset[int], span: tuple[int, int]) -> None:
        self.program = program
        self.clock = Columns(program, Axis.of_span(*span), Reports({}))
        self.nodes = tuple(
            node
            for node in nodes
            if isinstance(program.nodes[node].operator, limits.Limits | silence.Silence)
            and tails.intersection(program.nodes[node].children)
        )
        self.tables = [node for node in self.nodes if isinstance(program.nodes[node].operator, limits.Limits)]
        self.free = frozenset(free for node in self.tables for free in free_levels(program, node))
        self.sums = frozenset(
            child
            for node in self.nodes
            if node not in self.tables
            for child in program.nodes[node].children
            if child in tails
        )
        self.sorts = {node: [child for child in _sorts(program, node) if child in tails] for node in self.tables}
        self.sort_tails = frozenset(child for sorts in self.sorts.values() for child in sorts)
        self.doors = self._doors()
        self.longest_ms = max((self._operator(node).longest_ms for node in self.tables), default=0)
        self._found = cache(self._work_out)
        self._limit_ms = cache(self._limits)
        self._edges = self._all_edges()

    def _operator(self, node: int) -> limits.Limits:
        operator = self.program.nodes[node].operator
        assert isinstance(operator, limits.Limits)
        return operator

    def _doors(self) -> frozenset[int]:
        """Return the pulses that move a free level: those of outside doors."""
        found = set[int]()
        for free in self.free:
            (joined,) = self.program.nodes[free].children
            found.update(self.program.nodes[joined].children)
        return frozenset(found)

    def kinds(self, last: Last) -> list[Sort]:
        """Return every sort of sign that parts which are not silent may give."""
        leaves: dict[int, dict[int, int]] = {}
        for table, sorts in self.sorts.items():
            for sort in sorts:
                for leaf in self.program.nodes[sort].children:
                    leaves.setdefault(leaf, {})[table] = sort
        found: dict[tuple[frozenset[int], frozenset[int]], list[int]] = {}
        for leaf, sort_of in leaves.items():
            parts = parts_of(self.program, leaf)
            if parts and parts <= last.silent:
                continue
            ways = [[sort_of[table]] if table in sort_of else sorts for table, sorts in self.sorts.items() if sorts]
            for sorts_hit in product(*ways):
                for true in self._patterns(leaf, last.silent):
                    found.setdefault((frozenset(sorts_hit) | self.sums, true), []).append(leaf)
        return [self._sort(tails, true, those) for (tails, true), those in found.items()]

    def _sort(self, tails: frozenset[int], true: frozenset[int], leaves: Sequence[int]) -> Sort:
        signals = dict.fromkeys(name for leaf in leaves for name in sorted(signals_of(self.program, leaf)))
        if not true or self.doors.issuperset(leaves):
            return Sort(tails, true, tuple(leaves), tuple(signals))
        door = min(name for one in self.doors for name in signals_of(self.program, one))
        ago = min(_duration(self.program, node) for node in true) - 1
        return Sort(tails, true, tuple(leaves), tuple(signals), door, ago)

    def _patterns(self, leaf: int, silent: frozenset[str]) -> list[frozenset[int]]:
        """Return which free levels may be true with a sign: a door that moved so long ago moved no longer ago."""
        if not self.free:
            return [frozenset()]
        if leaf in self.doors:
            return [self.free]
        if all(parts_of(self.program, door) <= silent for door in self.doors):
            return [frozenset()]
        within = {node: _duration(self.program, node) for node in self.free}
        longest = sorted(set(within.values()))
        return [
            frozenset(),
            *(frozenset(node for node, duration in within.items() if duration >= least) for least in longest),
        ]

    def _limits(self, node: int, tails: frozenset[int], true: frozenset[int]) -> Times:
        """Return the limit that a silence has after a sign of a kind in each stretch between edges."""
        operator, children = self.program.nodes[node].operator, self.program.nodes[node].children
        if isinstance(operator, silence.Silence):
            return np.full(len(self._edges), operator.duration_ms, np.int64)
        assert isinstance(operator, limits.Limits)
        sort = next((place for place, child in enumerate(children[: operator.sorts]) if child in tails), None)
        if sort is None:  # no part that can give a sign of this table
            return np.full(len(self._edges), operator.longest_ms, np.int64)
        return limits.limits_at(operator, sort, self._conditions(node, true), self._edges)

    def _conditions(self, node: int, true: frozenset[int]) -> list[Steps]:
        given: dict[int, Column] = {}
        for part in self._asked(node):
            if part in self.free:
                given[part] = constant(self.clock.axis, TRUE if part in true else FALSE)
            else:
                given[part] = self.clock.column(part)
        columns = Columns(self.program, self.clock.axis, Reports({}), given)
        operator = self._operator(node)
        return [columns.steps(child) for child in self.program.nodes[node].children[operator.sorts :]]

    def _asked(self, node: int) -> list[int]:
        """Return what the rows of a table ask: matters of the clock, and free levels."""
        operator, found = self._operator(node), list[int]()
        for child in self.program.nodes[node].children[operator.sorts :]:
            below = self.program.nodes[child]
            parts = below.children if isinstance(below.operator, logic.AllOf) else (child,)
            found += parts if self.free.intersection(parts) else (child,)
        return list(dict.fromkeys(found))

    def _all_edges(self) -> Times:
        """Return every instant of the calendar at which a row of a table begins or ends to apply."""
        asked = [part for node in self.tables for part in self._asked(node) if part not in self.free]
        return np.unique(np.concatenate([self.clock.axis.starts, *(self.clock.steps(part).times for part in asked)]))

    def choices(self, last: Last, low: int, high: int) -> Choices | None:
        """Return the candidates for onsets from ``low`` to ``high``; None where no part is left to give a sign."""
        kinds = self.kinds(last)
        if not kinds:
            return None
        lead = tuple(last.late_ms if self._is_late(kind, last.late) else 0 for kind in kinds)
        span = low // BLOCK_MS * BLOCK_MS, (high // BLOCK_MS + 1) * BLOCK_MS
        return self._found(tuple(kinds), lead, span)

    def _work_out(self, kinds: tuple[Sort, ...], lead: tuple[int, ...], span: tuple[int, int]) -> Choices:
        limit_ms = np.stack(
            [np.stack([self._limit_ms(node, kind.tails, kind.true) for kind in kinds]) for node in self.nodes]
        )
        grid = Grid(self._edges, limit_ms, np.array(lead, np.int64), span)
        return Choices(kinds, self.nodes, latest(grid))

    def _is_late(self, kind: Sort, late: str) -> bool:
        return bool(late) and any(late in parts_of(self.program, leaf) for leaf in kind.leaves)


def _sorts(program: Program, node: int) -> Sequence[int]:
    operator = program.nodes[node].operator
    assert isinstance(operator, limits.Limits)
    return program.nodes[node].children[: operator.sorts]


def free_levels(program: Program, node: int) -> list[int]:
    """Return the levels that a table asks and the clock does not decide: whether a door moved shortly before."""
    operator = program.nodes[node].operator
    assert isinstance(operator, limits.Limits)
    found = []
    for child in program.nodes[node].children[operator.sorts :]:
        below = program.nodes[child]
        parts = below.children if isinstance(below.operator, logic.AllOf) else (child,)
        found += [part for part in parts if isinstance(program.nodes[part].operator, count.Count)]
    return list(dict.fromkeys(found))


def _duration(program: Program, node: int) -> int:
    operator = program.nodes[node].operator
    assert isinstance(operator, count.Count)
    return operator.duration_ms


def signals_of(program: Program, node: int) -> frozenset[str]:
    """Return the signals that parts report and that a node is made of."""
    found = set[str]()
    for below in program.cone([node]):
        match program.nodes[below].operator:
            case reported.PulseReport(name) | reported.LevelReport(name) | reported.NumberReport(name):
                found.add(name)
            case _:
                pass
    return frozenset(found)


def parts_of(program: Program, node: int) -> frozenset[str]:
    """Return the parts that a node is made of."""
    return frozenset(name.partition(".")[0] for name in signals_of(program, node))
