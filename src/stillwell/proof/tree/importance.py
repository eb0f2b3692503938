"""How much each basic event matters: the usual importance measures, exact or from the sum of the cut sets.

Definitions as in NUREG-0492 chapter XI and IEC 61025 (from memory), written with P for the chance of the top
event and p for that of the basic event:

    Birnbaum          P(top | e failed) - P(top | e working)
    criticality       Birnbaum * p / P
    Fussell-Vesely    P(a minimal cut set that holds e has failed) / P
    diagnostic (DIF)  P(e failed | top) = p * P(top | e failed) / P
    achievement (RAW) P(top | e failed) / P
    reduction (RRW)   P / P(top | e working)
"""

from collections.abc import Mapping
from dataclasses import dataclass

from stillwell.proof.tree.bdd import (
    Conditional,
    Diagram,
    as_diagram,
    conditionals,
    probability,
    shannon,
    undone_by,
)
from stillwell.proof.tree.builder import Builder
from stillwell.proof.tree.cuts import Family, cut_family, products, through_event
from stillwell.proof.tree.graph import flows, freeze, values
from stillwell.proof.tree.tree import Tree


@dataclass(frozen=True, slots=True)
class Importance:
    """What one basic event means for the top event.

    ``if_failed`` and ``if_working`` are the chance of the top event with this event given. A ratio whose
    divisor is nought is written as 0: all but Birnbaum's where the top event cannot happen, and ``reduction``
    where without this event it could not; ``criticality`` is 1 there, so rank by that. ``cut_sets`` (how many
    minimal cut sets hold the event) and ``fussell_vesely`` are None where the tree is not coherent.
    """

    probability: float
    if_failed: float
    if_working: float
    birnbaum: float
    criticality: float
    diagnostic: float
    achievement: float
    reduction: float
    fussell_vesely: float | None
    cut_sets: int | None


def importances(of: Tree | Diagram, p: Mapping[str, float]) -> dict[str, Importance]:
    """Return the exact measures of every event of the tree, in the order of its diagram.

    ``p`` is the chance of each basic event (0 to 1). Raises Refusal where one is missing or is none.
    """
    read = as_diagram(of)
    top = probability(read, p)
    given = conditionals(read, p)
    if undone_by(read) is not None:
        return {name: _measures(p[name], top, given[name], None, None) for name in read.events}
    family = cut_family(read)
    holding = _sets_holding(family)
    builder = Builder(family.events)
    weights = shannon(read, p)
    found = {}
    for name, function in through_event(family, builder).items():
        part = freeze(builder.order, builder.nodes, function)
        vesely = _ratio(values(part, weights)[part.root], top)
        found[name] = _measures(p[name], top, given[name], vesely, holding[name])
    return found


def rare_event_importances(of: Tree | Diagram | Family, p: Mapping[str, float]) -> dict[str, Importance]:
    """Return the measures with the sum of the cut sets' chances for every chance of the top event.

    Close to the exact ones where all chances are small; for a tree with a great many events, or to compare
    with programs that work so. ``p`` as for ``importances``; raises Refusal as ``cut_family`` does.
    """
    family = of if isinstance(of, Family) else cut_family(of)
    weights = products(family, p)
    value = values(family.graph, weights)
    top = value[family.graph.root]
    holding = _sets_holding(family)
    found = {}
    for name, flow in zip(family.events, flows(family.graph, weights, value), strict=True):
        given = Conditional(flow.past + flow.low + flow.high, flow.past + flow.low, flow.high)
        vesely = _ratio(p[name] * flow.high, top)
        found[name] = _measures(p[name], top, given, vesely, holding[name])
    return found


def _sets_holding(family: Family) -> dict[str, int]:
    ones = [(1, 1)] * len(family.events)
    through = flows(family.graph, ones, values(family.graph, ones))
    return {name: int(flow.high) for name, flow in zip(family.events, through, strict=True)}


def _measures(
    p: float, top: float, given: Conditional, fussell_vesely: float | None, cut_sets: int | None
) -> Importance:
    return Importance(
        probability=p,
        if_failed=given.if_failed,
        if_working=given.if_working,
        birnbaum=given.birnbaum,
        criticality=_ratio(given.birnbaum * p, top),
        diagnostic=_ratio(p * given.if_failed, top),
        achievement=_ratio(given.if_failed, top),
        reduction=_ratio(top, given.if_working),
        fussell_vesely=fussell_vesely,
        cut_sets=cut_sets,
    )


def _ratio(part: float, whole: float) -> float:
    return part / whole if whole else 0
