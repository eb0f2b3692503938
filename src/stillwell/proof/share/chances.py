"""How probable each fault of a home is at a given instant: failures a year, times how long one of them lasts.

A fault lasts until it is noticed and until it is mended. A part that falls silent is noticed when its supervision
has told somebody (the proof knows how long that takes at worst); what nobody is told of is found at a walk test. The
usual figures and where they come from are in ``tree.defaults``, those that are assumed here in this file; the plan's
[figures] go before all of them. docs/protected-share.md lists everything.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from stillwell.plan.model import Plan, Rate
from stillwell.proof.results import FaultResult
from stillwell.proof.tree import rates
from stillwell.proof.tree.defaults import (
    MAINS,
    PARTS,
    Figure,
    MainsFigures,
    Mark,
    PartFigures,
    overridden,
    part_figures,
)

HOUR_MS = 3_600_000
MINUTE_MS = 60_000

STUCK_SHARE: Final = Figure(0.1, Mark.COMMON, "one failure in ten leaves a part reporting one thing")
LATE_SHARE: Final = Figure(0.1, Mark.COMMON, "one failure in ten makes a part's reports late")
UNREACHABLE: Final = Figure(0.02, Mark.COMMON, "of their own hours: a flat telephone, a swim, a film")
WALK_TEST_H: Final = Figure(
    182.5 * 24, Mark.BORROWED, "two service visits a year, as a national guide asks for intruder alarms of grade 2"
)
DARK_H: Final = Figure(
    25, Mark.MEMORY, "EN 50136-1, category SP2: a path that says nothing any more is reported within 25 h"
)
BROKER: Final = PartFigures(
    Figure(0.2, Mark.COMMON, "it stops for good once in five years; a stop that a restart mends is none"),
    Figure(4, Mark.COMMON, "somebody starts it again from afar within half a day's work"),
)


@dataclass(frozen=True, slots=True)
class _Chance:
    """A chance, and the figures it was worked out from."""

    value: float
    used: tuple[Figure, ...]


def chances(plan: Plan, results: Iterable[FaultResult]) -> dict[str, Figure]:
    """Return for each fault, by its text, the share of the time in which it is there.

    The mark is that of the least well founded number that went in.
    """
    return {str(one.fault): _founded(_chance(plan, one)) for one in results}


def worst_of(figures: Iterable[Figure]) -> Mark:
    """Return the mark of the least well founded figure; the best where there is none."""
    return max((one.mark for one in figures), key=list(Mark).index, default=Mark.SET)


def _founded(chance: _Chance) -> Figure:
    sources = dict.fromkeys(figure.source for figure in chance.used)
    return Figure(chance.value, worst_of(chance.used), "; ".join(sources))


def _chance(plan: Plan, one: FaultResult) -> _Chance:
    fault = one.fault
    told_h = None if one.told_blind_s is None else one.told_blind_s / 3600
    match fault.kind:
        case "lost":
            return _lost(plan, fault.subject, told_h)
        case "flat battery not noticed yet":
            return _unnoticed(plan, _battery(plan), (), told_h)
        case "stuck":
            return _misreports(plan, fault.subject, _stuck_share(plan))
        case "late":
            return _misreports(plan, fault.subject, _late_share(plan))
        case "stopped":
            return _stopped(plan, told_h)
        case "out":
            return _down(_rate(PARTS["internet"], plan.figures.ways_out.get(fault.subject, Rate())), ())
        case "unreachable":
            share = _own_or(plan.figures.people.get(fault.subject, plan.figures.unreachable), UNREACHABLE)
            return _Chance(share.value, (share,))
        case _:
            return _mains_out(plan, lasts_on=not fault.fresh_mains)


def _lost(plan: Plan, part: str, told_h: float | None) -> _Chance:
    """A part that reports nothing: broken, or its battery known to be flat; a controller that has stopped."""
    own = _part(plan, part)
    if plan.parts[part].kind == "controller":
        dark_h = _hours_or(plan.figures.dark_noticed, DARK_H)
        return _down(own, (), dark_h)
    stuck, late = _stuck_share(plan), _late_share(plan)
    silent = Figure(max(0.0, 1 - stuck.value - late.value), worst_of((stuck, late)), stuck.source)
    reasons = [_unnoticed(plan, own, (silent,), told_h), _down(own, (silent,))]
    if plan.parts[part].power == "battery":
        reasons.append(_down(_battery(plan), ()))
    return _any_of(reasons)


def _misreports(plan: Plan, part: str, share: Figure) -> _Chance:
    """A part that keeps reporting, but not what is so: nobody is told, a walk test finds it."""
    own = _part(plan, part)
    return _any_of([_unnoticed(plan, own, (share,), None), _down(own, (share,))])


def _stopped(plan: Plan, told_h: float | None) -> _Chance:
    broker = _rate(BROKER, plan.figures.broker)
    if told_h is None:
        return _down(broker, (), _hours_or(plan.figures.dark_noticed, DARK_H))
    return _any_of([_unnoticed(plan, broker, (), told_h), _down(broker, ())])


def _unnoticed(plan: Plan, figures: PartFigures, shares: tuple[Figure, ...], told_h: float | None) -> _Chance:
    """Failed and not noticed: until somebody is told, else until the next walk test."""
    used = (figures.failures_per_year, *shares)
    if told_h is not None:
        return _Chance(rates.steady_unavailability(_per_h(used), told_h), used)
    test_h = _hours_or(plan.figures.walk_test_every, WALK_TEST_H)
    return _Chance(rates.unavailability_between_tests(_per_h(used), test_h.value), (*used, test_h))


def _down(figures: PartFigures, shares: tuple[Figure, ...], *before: Figure) -> _Chance:
    """Being mended, and the hours ``before`` that until it is noticed."""
    often = (figures.failures_per_year, *shares)
    hours = (*before, figures.repair_h)
    return _Chance(rates.steady_unavailability(_per_h(often), sum(one.value for one in hours)), (*often, *hours))


def _per_h(often: tuple[Figure, ...]) -> float:
    return math.prod(one.value for one in often) / rates.HOURS_PER_YEAR


def _any_of(reasons: list[_Chance]) -> _Chance:
    """Return the chance that one of several reasons holds, each independent of the others."""
    none_of_them = math.prod(1 - one.value for one in reasons)
    return _Chance(1 - none_of_them, tuple(figure for one in reasons for figure in one.used))


def _mains_out(plan: Plan, *, lasts_on: bool) -> _Chance:
    """The mains are out: ``lasts_on``, longer than the controller's battery holds, or not as long yet.

    A controller that needs no mains holds for ever.
    """
    figures = mains(plan)
    saidi, saifi = figures.saidi_min_per_year, figures.saifi_per_year
    held = [part.hold_up or 0 for part in plan.parts.values() if part.kind == "controller" and part.power == "mains"]
    beyond = 0.0
    if held:
        beyond = rates.mains_unavailability_beyond(saidi.value, saifi.value, min(held) / MINUTE_MS)
    value = beyond if lasts_on else rates.mains_unavailability(saidi.value) - beyond
    return _Chance(value, (saidi, saifi))


def mains(plan: Plan) -> MainsFigures:
    """Return the mains figures of a home: its own, else the mean of Europe."""
    usual, own = MAINS["Europe"], plan.figures.power_cuts
    return MainsFigures(
        _own_or(own.minutes_per_year, usual.saidi_min_per_year), _own_or(own.per_year, usual.saifi_per_year)
    )


def _part(plan: Plan, part: str) -> PartFigures:
    kind = plan.parts[part].kind
    figures = _rate(part_figures(kind), plan.figures.kinds.get(kind, Rate()))
    return _rate(figures, plan.figures.parts.get(part, Rate()))


def _battery(plan: Plan) -> PartFigures:
    return _rate(PARTS["battery"], plan.figures.battery)


def _rate(usual: PartFigures, own: Rate) -> PartFigures:
    repair_h = None if own.repair is None else own.repair / HOUR_MS
    return overridden(usual, failures_per_year=own.failures_per_year, repair_h=repair_h)


def _stuck_share(plan: Plan) -> Figure:
    return _own_or(plan.figures.stuck_share, STUCK_SHARE)


def _late_share(plan: Plan) -> Figure:
    return _own_or(plan.figures.late_share, LATE_SHARE)


def _hours_or(own_ms: int | None, usual: Figure) -> Figure:
    return _own_or(None if own_ms is None else own_ms / HOUR_MS, usual)


def _own_or(own: float | None, usual: Figure) -> Figure:
    return usual if own is None else Figure(own, Mark.SET, "the plan")
