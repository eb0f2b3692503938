"""The hours of a hazard sorted into classes: at all onsets of one class the same must be broken for help to be late.

Each class has a fault tree whose basic events are faults, by their text, and whose top event is "nobody is told in
time". Its parts come from three places: what the rules and everybody's hours lose anyway, faults of parts (each world
with one of them proved by itself, and pairs where they were asked for), and people and ways out, whose every
combination is exact.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from stillwell.plan.model import Hazard, Plan
from stillwell.proof.deadlines import deadlines
from stillwell.proof.faults import Fault, ways_out
from stillwell.proof.results import HazardResult, Raised
from stillwell.proof.share.lanes import Lane, Lanes, Needed, classes
from stillwell.proof.tell import Telling
from stillwell.proof.tree.bdd import Diagram, diagram, probability
from stillwell.proof.tree.cuts import minimal_cut_sets
from stillwell.proof.tree.rates import HOURS_PER_YEAR
from stillwell.proof.tree.tree import And, Basic, Or, Tree

Worlds: TypeAlias = tuple[Raised, ...]


@dataclass(frozen=True)
class Class:
    """A class of hours: its share of the onsets that count, and what makes help late then.

    ``tree`` is None where help is late whatever works. ``cut_sets`` are the smallest sets of faults that are enough.
    """

    onsets: float
    tree: Diagram | None
    cut_sets: tuple[frozenset[str], ...]


@dataclass(frozen=True)
class Hours:
    """Every class of a hazard's hours; ``at_risk_h`` are the hours of a year in which it counts at all."""

    hazard: Hazard
    at_risk_h: float
    classes: tuple[Class, ...]

    def late(self, chance: Mapping[str, float]) -> float:
        """Return the probability that nobody is told in time; ``chance`` is that of each fault."""
        return sum(one.onsets * (1.0 if one.tree is None else probability(one.tree, chance)) for one in self.classes)


def hours_of(plan: Plan, result: HazardResult, telling: Telling | None = None) -> Hours:
    """Sort the hours of a proved hazard into classes; ``telling`` is that of the plan, where it is at hand."""
    limit = deadlines(plan, result)
    span = int(result.told.points[0]), result.told.end
    whole = np.array(span[:1], np.int64), np.array(span[1:], np.int64)
    counted = limit.nights if limit.only_at_night else whole
    lanes = Lanes(telling or Telling(plan, span), limit, span)
    broken = _what_is_broken(result)
    found = classes([lanes.pattern(worlds) for _, worlds in broken], counted, span)
    faults, carriers = [faults for faults, _ in broken], _carriers(plan)
    at_risk = float((counted[1] - counted[0]).sum()) / (span[1] - span[0])
    return Hours(
        result.hazard,
        HOURS_PER_YEAR * at_risk,
        tuple(_class(onsets, _tree(faults, needs, carriers)) for needs, onsets in found.items()),
    )


def _class(onsets: float, tree: Tree | None) -> Class:
    if tree is None:
        return Class(onsets, None, (frozenset(),))
    read = diagram(tree)
    return Class(onsets, read, minimal_cut_sets(read))


def _what_is_broken(result: HazardResult) -> list[tuple[tuple[str, ...], Worlds]]:
    """Return the faults of parts, none first, with the worlds then; those that change nothing are left out."""
    usual = _identity(result.raised)
    single = [one for one in result.faults if not on_the_way(one.fault) and _identity(one.raised) != usual]
    return [
        ((), result.raised),
        *(((str(one.fault),), one.raised) for one in single),
        *((tuple(map(str, pair.faults)), pair.raised) for pair in result.pairs),
    ]


def on_the_way(fault: Fault) -> bool:
    """Tell whether a fault lies between the home and the people: when an alarm is raised is the same with it."""
    return fault.kind in {"out", "unreachable"}


def _identity(worlds: Sequence[Raised]) -> frozenset[tuple[int, ...]]:
    return frozenset(tuple(id(curve) for _, curve in raised) for raised in worlds)


def _carriers(plan: Plan) -> dict[str, tuple[str, ...]]:
    """Return for each channel the faults that must all be there for it to carry nothing."""
    found: dict[str, tuple[str, ...]] = {}
    for way, channels in ways_out(plan).items():
        for channel in channels:
            found[channel] = (*found.get(channel, ()), str(Fault("out", way)))
    return found


def _tree(
    broken: Sequence[tuple[str, ...]], needs: Sequence[Needed], carriers: Mapping[str, tuple[str, ...]]
) -> Tree | None:
    """Return: any of the faults of parts, with what of people and ways out is enough then; None: nothing is needed.

    ``broken[0]`` is no fault. What is enough without a fault is not said again with it, and faults after which the
    same is enough stand together.
    """
    if frozenset() in needs[0]:
        return None
    alike: dict[Needed, list[tuple[str, ...]]] = {}
    for faults, needed in zip(broken[1:], needs[1:], strict=True):
        more = frozenset(one for one in needed if not any(other <= one for other in needs[0]))
        if more:
            alike.setdefault(more, []).append(faults)
    dead = {lane: _dead(lane, carriers) for needed in (needs[0], *alike) for lanes in needed for lane in lanes}
    terms = [_unheard(needs[0], dead)]
    for needed, each in alike.items():
        there = Or(tuple(And(tuple(map(Basic, faults))) for faults in each))
        terms.append(there if frozenset() in needed else And((there, _unheard(needed, dead))))
    return Or(tuple(terms))


def _unheard(needed: Needed, dead: Mapping[Lane, Tree]) -> Tree:
    return Or(tuple(And(tuple(dead[lane] for lane in lanes)) for lanes in sorted(map(sorted, needed))))


def _dead(lane: Lane, carriers: Mapping[str, tuple[str, ...]]) -> Tree:
    person = Basic(str(Fault("unreachable", lane.person)))
    ways = carriers.get(lane.channel, ())
    return Or((person, And(tuple(Basic(way) for way in ways)))) if ways else person
