"""Minimal cut sets of a coherent fault tree: the smallest sets of parts whose failure together is enough.

Computed on the tree's diagram and kept as a zero-suppressed one, so that millions of sets fit in a few
thousand nodes. A. Rauzy, "New algorithms for fault trees analysis", Reliability Engineering & System Safety
40, 1993; S. Minato, "Zero-suppressed BDDs for set manipulation in combinatorial problems", DAC 1993 (both
from memory).
"""

from collections.abc import Mapping
from dataclasses import dataclass

from stillwell.problem import refuse
from stillwell.proof.tree.bdd import Diagram, as_diagram, check_chances, undone_by
from stillwell.proof.tree.builder import Builder
from stillwell.proof.tree.graph import Graph, Weights, freeze, values
from stillwell.proof.tree.tree import Tree

NONE, EMPTY = 0, 1  # the family without any set; the family of the empty set alone

Pair = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Family:
    """Sets of events as a zero-suppressed diagram: a path to "yes" is the set of the events it takes high."""

    graph: Graph

    @property
    def events(self) -> tuple[str, ...]:
        return self.graph.order


@dataclass(frozen=True, slots=True)
class CutSets:
    """Minimal cut sets written out, and how many more there are that a limit left out."""

    sets: tuple[frozenset[str], ...]
    left_out: int


class _Families:
    """Builds families of sets over the levels of one diagram."""

    def __init__(self, levels: int) -> None:
        self.nodes: list[tuple[int, int, int]] = [(levels, 0, 0), (levels, 1, 1)]
        self._unique: dict[tuple[int, int, int], int] = {}
        self._memo: dict[Pair, int] = {}

    def node(self, level: int, low: int, high: int) -> int:
        """Return: the sets of low, and those of high with the event of ``level`` added to each."""
        if high == NONE:
            return low
        key = (level, low, high)
        found = self._unique.get(key)
        if found is None:
            found = self._unique[key] = len(self.nodes)
            self.nodes.append(key)
        return found

    def without(self, sets: int, smaller: int) -> int:
        """Return the ``sets`` that contain none of ``smaller``."""
        stack = [(sets, smaller)]
        answer = NONE
        while stack:
            outcome = self._without_step(*stack[-1])
            if isinstance(outcome, int):
                answer = outcome
                self._memo[stack.pop()] = outcome
            else:
                stack.append(outcome)
        return answer

    def _without_step(self, sets: int, smaller: int) -> int | Pair:
        """Return the answer, or the question that must be answered first."""
        known = self._known(sets, smaller)
        if known is not None:
            return known
        level, low, high = self.nodes[sets]
        other_level, other_low, other_high = self.nodes[smaller]
        if level > other_level:
            known = self._known(sets, other_low)
            return (sets, other_low) if known is None else known
        if level < other_level:
            other_low, other_high = smaller, NONE
        kept_low = self._known(low, other_low)
        if kept_low is None:
            return (low, other_low)
        kept_high = self._known(high, other_low)
        if kept_high is None:
            return (high, other_low)
        question = (kept_high, other_high)
        kept_high = self._known(*question)
        return question if kept_high is None else self.node(level, kept_low, kept_high)

    def _known(self, sets: int, smaller: int) -> int | None:
        if NONE in (sets, smaller):
            return sets
        if smaller in (EMPTY, sets):
            return NONE
        return EMPTY if sets == EMPTY else self._memo.get((sets, smaller))


def cut_family(of: Tree | Diagram) -> Family:
    """Return all minimal cut sets of a coherent tree.

    A tree that always happens has one cut set, the empty one; a tree that never does has none. Raises
    Refusal, naming the event, where the failure of a part can make the top event go away.
    """
    read = as_diagram(of)
    culprit = undone_by(read)
    if culprit is not None:
        raise refuse(
            f"this tree has no minimal cut sets: when {culprit!r} happens, the top event can go away",
            "Take the not gate off it, or ask for the probability only, which needs no cut sets.",
            name=culprit,
        )
    graph = read.graph
    families = _Families(len(graph.order))
    minimal = [NONE, EMPTY]
    for node in range(2, len(graph)):
        below = minimal[graph.low[node]]
        more = families.without(minimal[graph.high[node]], below)
        minimal.append(families.node(graph.level[node], below, more))
    return Family(freeze(graph.order, families.nodes, minimal[graph.root]))


def number_of_sets(family: Family) -> int:
    """Return how many sets there are, without writing them out."""
    return int(values(family.graph, [(1, 1)] * len(family.events))[family.graph.root])


def cut_sets(
    of: Tree | Diagram | Family,
    *,
    most_events: int | None = None,
    p: Mapping[str, float] | None = None,
    least_chance: float | None = None,
) -> CutSets:
    """Write the minimal cut sets out.

    All of them, unless ``most_events`` (events in a set) or ``least_chance`` (product of the chances ``p``)
    asks for fewer; what was left out is counted. In order of chance where ``p`` is given, else of size, then
    of name. Raises Refusal as ``cut_family`` does, and where ``least_chance`` comes without ``p``.
    """
    if least_chance is not None and p is None:
        raise refuse("a least chance is asked for without the chances", "Give the chance of every event as p.")
    family = of if isinstance(of, Family) else cut_family(of)
    if p is not None:
        check_chances(p, family.events)
    found = _written_out(family, most_events, p, 0 if least_chance is None else least_chance)
    by_name = sorted(found, key=lambda entry: sorted(entry[0]))
    ordered = sorted(by_name, key=lambda entry: (-entry[1], len(entry[0])))
    return CutSets(tuple(events for events, _ in ordered), number_of_sets(family) - len(ordered))


def _written_out(
    family: Family, most_events: int | None, p: Mapping[str, float] | None, least_chance: float
) -> list[tuple[frozenset[str], float]]:
    """Return (set, its chance or 1 without ``p``), leaving a branch where no set can pass the limits."""
    graph = family.graph
    found = []
    stack: list[tuple[int, tuple[str, ...], float]] = [(graph.root, (), 1)]
    while stack:
        node, chosen, chance = stack.pop()
        if node == NONE or chance < least_chance or (most_events is not None and len(chosen) > most_events):
            continue
        if node == EMPTY:
            found.append((frozenset(chosen), chance))
            continue
        event = graph.order[graph.level[node]]
        stack.append((graph.low[node], chosen, chance))
        stack.append((graph.high[node], (*chosen, event), chance if p is None else chance * p[event]))
    return found


def minimal_cut_sets(of: Tree | Diagram) -> tuple[frozenset[str], ...]:
    """Return every minimal cut set, smallest first."""
    return cut_sets(of).sets


def products(family: Family, p: Mapping[str, float]) -> Weights:
    """Return the weights that make a set worth the product of its events' chances."""
    check_chances(p, family.events)
    return [(1, p[name]) for name in family.events]


def rare_event_sum(family: Family, p: Mapping[str, float]) -> float:
    """Return the sum of all cut sets' chances: an upper bound, close where all are small; may exceed 1."""
    return values(family.graph, products(family, p))[family.graph.root]


def min_cut_upper_bound(family: Family, p: Mapping[str, float]) -> float:
    """Return 1 - product of (1 - chance) over all cut sets; exact where no two of them share an event.

    Writes every set out: time grows with their number. NUREG-0492, chapter XI.
    """
    check_chances(p, family.events)
    bound: float = 0
    for _, chance in _written_out(family, None, p, 0):
        bound += chance * (1 - bound)
    return bound


def through_event(family: Family, builder: Builder) -> dict[str, int]:
    """Return for each event the function "a minimal cut set that holds it has failed"."""
    graph = family.graph
    failed = [0, 1]
    for node in range(2, len(graph)):
        low = failed[graph.low[node]]
        failed.append(builder.node(graph.level[node], low, builder.either(low, failed[graph.high[node]])))
    found = {}
    for level, event in enumerate(graph.order):
        part = [0, 0]
        for node in range(2, len(graph)):
            if graph.level[node] > level:
                part.append(0)
            elif graph.level[node] == level:
                part.append(builder.node(level, 0, failed[graph.high[node]]))
            else:
                low = part[graph.low[node]]
                part.append(builder.node(graph.level[node], low, builder.either(low, part[graph.high[node]])))
        found[event] = part[graph.root]
    return found
