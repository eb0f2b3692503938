"""The protected share of the year: exact curves of notice time and chances of failure, joined by fault trees.

A hazard begins at an instant that is as likely as any other. The share not protected is the mean, over the classes of
hours, of the exact probability that what is broken makes help late then.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from stillwell.plan.model import Hazard
from stillwell.proof.results import HazardResult, Proof
from stillwell.proof.share.chances import chances, worst_of
from stillwell.proof.share.hours import Hours, hours_of
from stillwell.proof.tell import Telling
from stillwell.proof.tree.bdd import probability
from stillwell.proof.tree.defaults import Figure, Mark
from stillwell.proof.tree.importance import Importance, importances

HOURS = "hours"
"""The contribution of the rules, the call lists and everybody's hours themselves, with nothing broken."""


@dataclass(frozen=True, slots=True)
class Contribution:
    """What one fault costs: the hours a year that would be protected if it never happened.

    ``fault`` is ``HOURS`` for what is lost with nothing broken; there is no chance and no importance then. Hours lost
    to two faults together count for both, so the contributions may sum to more than what is lost.
    """

    fault: str
    lost_h_per_year: float
    chance: Figure | None = None
    importance: Importance | None = None


@dataclass(frozen=True, slots=True)
class CutSet:
    """Faults that are enough together, the share of the onsets at which they are, and what that costs a year."""

    faults: frozenset[str]
    onsets: float
    lost_h_per_year: float


@dataclass(frozen=True)
class Share:
    """How well a hazard is watched for over a year.

    ``protected`` is the probability that somebody is told within the deadline, ``at_risk_h`` the hours of the year in
    which the hazard counts at all. Contributions and cut sets come with the dearest first; ``worst_mark`` is that of
    the least well founded figure among those that cost anything.
    """

    hazard: Hazard
    protected: float
    at_risk_h: float
    lost_h_per_year: float
    contributions: tuple[Contribution, ...]
    cut_sets: tuple[CutSet, ...]
    worst_mark: Mark


@dataclass(frozen=True)
class HomeShare:
    """The home is as protected as from the hazard it is protected from least; None where it has no hazard."""

    protected: float | None
    least: Share | None
    hazards: tuple[Share, ...]


def home_share(proof: Proof) -> HomeShare:
    """Return the protected share for every hazard of a proof; the watch going blind is a fault and no hazard here."""
    spans = [(int(result.told.points[0]), result.told.end) for result in proof.hazards]
    whole = min((start for start, _ in spans), default=0), max((end for _, end in spans), default=0)
    telling = Telling(proof.plan, whole)
    shares = [hazard_share(proof, result, telling) for result in proof.hazards if result.hazard.kind != "blind"]
    least = min(shares, key=lambda one: one.protected, default=None)
    return HomeShare(None if least is None else least.protected, least, tuple(shares))


def hazard_share(proof: Proof, result: HazardResult, telling: Telling | None = None) -> Share:
    """Return the protected share for one hazard of a proof that knows its single faults."""
    return share_of(hours_of(proof.plan, result, telling), chances(proof.plan, result.faults))


def share_of(hours: Hours, figures: Mapping[str, Figure]) -> Share:
    """Return the protected share where each fault has the given chance, by the fault's text."""
    chance = {name: figure.value for name, figure in figures.items()}
    late = hours.late(chance)
    sets = _cut_sets(hours, chance)
    contributions = [
        Contribution(name, one.birnbaum * one.probability * hours.at_risk_h, figures[name], one)
        for name, one in _importances(hours, chance, late, sets).items()
    ]
    always = sum(one.onsets for one in hours.classes if one.tree is None)
    if always:
        contributions.append(Contribution(HOURS, always * hours.at_risk_h))
    return Share(
        hours.hazard,
        1 - late,
        hours.at_risk_h,
        late * hours.at_risk_h,
        tuple(sorted(contributions, key=lambda one: (-one.lost_h_per_year, one.fault))),
        sets,
        worst_of(one.chance for one in contributions if one.chance is not None and one.lost_h_per_year > 0),
    )


def _importances(
    hours: Hours, chance: Mapping[str, float], late: float, sets: Iterable[CutSet]
) -> dict[str, Importance]:
    """Return the measures over all hours: chances are means over them, and ratios are made of those."""
    birnbaum: dict[str, float] = {}
    vesely: dict[str, float] = {}
    for each in hours.classes:
        if each.tree is not None:
            top = each.onsets * probability(each.tree, chance)
            for name, one in importances(each.tree, chance).items():
                birnbaum[name] = birnbaum.get(name, 0.0) + each.onsets * one.birnbaum
                vesely[name] = vesely.get(name, 0.0) + top * (one.fussell_vesely or 0.0)
    holding = {name: sum(name in one.faults for one in sets) for name in birnbaum}
    return {name: _measures(chance[name], late, moved, vesely[name], holding[name]) for name, moved in birnbaum.items()}


def _measures(p: float, late: float, birnbaum: float, vesely: float, cut_sets: int) -> Importance:
    if_working = max(0.0, late - p * birnbaum)
    if_failed = if_working + birnbaum
    return Importance(
        probability=p,
        if_failed=if_failed,
        if_working=if_working,
        birnbaum=birnbaum,
        criticality=_ratio(birnbaum * p, late),
        diagnostic=_ratio(p * if_failed, late),
        achievement=_ratio(if_failed, late),
        reduction=_ratio(late, if_working),
        fussell_vesely=_ratio(vesely, late),
        cut_sets=cut_sets,
    )


def _cut_sets(hours: Hours, chance: Mapping[str, float]) -> tuple[CutSet, ...]:
    """Return every smallest set of faults with the onsets at which it is one, dearest first."""
    onsets: dict[frozenset[str], float] = {}
    for each in hours.classes:
        for faults in each.cut_sets:
            onsets[faults] = onsets.get(faults, 0.0) + each.onsets
    # in order, or the last digit, and with it the order of equals, would be another one in each run
    found = [
        CutSet(faults, share, share * math.prod(sorted(chance[name] for name in faults)) * hours.at_risk_h)
        for faults, share in onsets.items()
    ]
    return tuple(sorted(found, key=lambda one: (-one.lost_h_per_year, len(one.faults), sorted(one.faults))))


def _ratio(part: float, whole: float) -> float:
    return part / whole if whole else 0.0
