"""What a signal such as ``sign_of_life`` is made of, and where each of its signs comes from."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from stillwell.plan.kinds import OUTSIDE
from stillwell.plan.limits import LimitRow
from stillwell.plan.model import Plan
from stillwell.plan.names import names_of, part_signals_in
from stillwell.rules.check import check_formula
from stillwell.rules.formula import And, Formula, Or, Signal, Then, Without
from stillwell.rules.kinds import Kind, Names


@dataclass(frozen=True, slots=True)
class Sign:
    """One of the pulses that a signal joins with ``or``.

    ``names``: under which names it is known, itself and the sums it stands in. ``rooms``: where it may have come
    from; empty where no part of it has a room.
    """

    formula: Formula
    names: frozenset[str]
    rooms: frozenset[str]


def signs(plan: Plan, signal: str) -> tuple[Sign, ...]:
    """Return the signs that a signal is made of, each once, in the order in which they are written.

    A signal that needs itself is followed only once.
    """
    found: dict[Formula, Sign] = {}
    for formula, names in _leaves(plan, Signal(signal), ()):
        known = found.get(formula, Sign(formula, frozenset(), rooms_of(plan, formula)))
        found[formula] = replace(known, names=known.names | {*names})
    return tuple(found.values())


def row_fits(row: LimitRow, sign: Sign) -> bool:
    """Tell whether a row may apply to a sign, hours, days and doors aside."""
    return (row.room is None or row.room in sign.rooms) and (row.last is None or row.last in sign.names)


def rooms_of(plan: Plan, formula: Formula) -> frozenset[str]:
    """Return the rooms of the parts that give a pulse: of ``a then b`` those of b, of ``a without b`` those of a.

    A part without a room that sits on a door or window belongs to the rooms that this joins.
    """
    given = _giving(plan, names_of(plan), formula, ())
    parts = {name.partition(".")[0] for one in given for name in part_signals_in(plan, one)}
    return frozenset(room for part in parts if part in plan.parts for room in _rooms_of_part(plan, part))


def _rooms_of_part(plan: Plan, name: str) -> Iterator[str]:
    part = plan.parts[name]
    if part.room is not None:
        yield part.room
    elif part.opening is not None and part.opening in plan.openings:
        yield from (room for room in plan.openings[part.opening].rooms if room != OUTSIDE)


def _leaves(plan: Plan, formula: Formula, sums: tuple[str, ...]) -> Iterator[tuple[Formula, tuple[str, ...]]]:
    match formula:
        case Signal(name) if name in plan.signals:
            if name not in sums:
                yield from _leaves(plan, plan.signals[name].formula, (*sums, name))
        case Signal(name):
            yield formula, (*sums, name)
        case Or(parts):
            for part in parts:
                yield from _leaves(plan, part, sums)
        case _:
            yield formula, sums


def _giving(plan: Plan, names: Names, formula: Formula, through: tuple[str, ...]) -> Iterator[Formula]:
    """Yield what gives a pulse, without what only has to hold at that moment or to come before or after it."""
    match formula:
        case Then(_, given) | Without(given, _):
            yield from _giving(plan, names, given, through)
        case And(parts):
            pulses = [part for part in parts if check_formula(part, names)[0] is Kind.PULSE]
            for part in pulses or parts:
                yield from _giving(plan, names, part, through)
        case Signal(name) if name in plan.signals:
            if name not in through:
                yield from _giving(plan, names, plan.signals[name].formula, (*through, name))
        case _:
            yield formula


def outside_doors(plan: Plan) -> tuple[str, ...]:
    """Return the contacts on doors to the outside."""
    doors = {name for name, one in plan.openings.items() if one.kind == "door" and OUTSIDE in one.rooms}
    return tuple(name for name, part in plan.parts.items() if part.kind == "contact" and part.opening in doors)
