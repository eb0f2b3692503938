"""What the rules of a plan may speak of, and what its derived signals are made of."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import assert_never

from stillwell.plan.circles import circles, in_order
from stillwell.plan.kinds import BATTERY_PART, EVERY_PART, SIGNALS_OF, SWITCHED
from stillwell.plan.model import Part, Plan
from stillwell.rules.check import check_formula
from stillwell.rules.formula import (
    And,
    At,
    Between,
    Compare,
    CountWithin,
    EndOf,
    Formula,
    HeldFor,
    NoneFor,
    NoneForLimit,
    Not,
    OnDays,
    Or,
    Signal,
    StartOf,
    StateIs,
    Then,
    Without,
)
from stillwell.rules.kinds import LEVEL, PULSE, Kind, Mistake, Names, SignalType

SIGN_OF_LIFE = "sign_of_life"


@dataclass(frozen=True, slots=True)
class Derived:
    """The derived signals of a plan, looked at in order of need.

    ``types`` holds those whose kind is known, ``order`` all that stand on no circle, ``mistakes`` what is wrong with
    their formulas; ``circles`` names those that need themselves.
    """

    types: Mapping[str, SignalType]
    order: tuple[str, ...]
    mistakes: Mapping[str, tuple[Mistake, ...]]
    circles: tuple[tuple[str, ...], ...]


def names_of(plan: Plan, derived: Derived | None = None) -> Names:
    """Return every name that a rule of the plan may use; ``derived`` where it is known already."""
    return _names(plan, {**part_signals(plan), **(derived or derived_signals(plan)).types})


def signals_of(plan: Plan) -> Mapping[str, SignalType]:
    """Return what each signal carries: ``part.signal`` for what parts give, bare names for derived signals."""
    return names_of(plan).signals


def signal_order(plan: Plan) -> tuple[str, ...]:
    """Return the derived signals, each after those that its formula needs."""
    return derived_signals(plan).order


def base_signals_of_life(plan: Plan) -> frozenset[str]:
    """Return the part signals that ``sign_of_life`` is made of, directly or through other derived signals."""
    rule = plan.signals.get(SIGN_OF_LIFE)
    return part_signals_in(plan, rule.formula) if rule is not None else frozenset()


def part_signals(plan: Plan) -> Mapping[str, SignalType]:
    """Return what the parts give, by ``part.signal``."""
    return {f"{name}.{signal}": kind for name, part in plan.parts.items() for signal, kind in _given_by(part)}


def derived_signals(plan: Plan) -> Derived:
    """Look at every formula under ``[signals]``, each after those it needs."""
    needs = {
        name: [other for other in sorted(names_in(rule.formula)) if other in plan.signals]
        for name, rule in plan.signals.items()
    }
    order = in_order(needs)
    known: dict[str, SignalType] = {**part_signals(plan)}
    types: dict[str, SignalType] = {}
    mistakes: dict[str, tuple[Mistake, ...]] = {}
    for name in order:
        kind, found = check_formula(plan.signals[name].formula, _names(plan, known))
        mistakes[name] = tuple(found)
        if kind is not None and kind is not Kind.NUMBER:
            known[name] = types[name] = PULSE if kind is Kind.PULSE else LEVEL
    return Derived(types, order, mistakes, circles(needs))


def part_signals_in(plan: Plan, formula: Formula) -> frozenset[str]:
    """Return the part signals that a formula reads, derived signals followed down to what they are made of."""
    return frozenset(name for name in _reached(plan, formula) if "." in name)


def names_read(plan: Plan, formula: Formula) -> frozenset[str]:
    """Return every signal and state that a formula reads, itself or through derived signals."""
    return frozenset(_reached(plan, formula))


def names_in(formula: Formula) -> frozenset[str]:
    """Return the signals and states that a formula names."""
    found = set()
    for node in nodes(formula):
        match node:
            case Signal() | Compare():
                found.add(node.name)
            case StateIs():
                found.add(node.state)
    return frozenset(found)


def nodes(formula: Formula) -> Iterator[Formula]:
    """Yield the formula and all formulas in it."""
    waiting = [formula]
    while waiting:
        node = waiting.pop()
        yield node
        match node:
            case And() | Or():
                waiting += node.parts
            case Not() | HeldFor() | NoneFor() | NoneForLimit() | CountWithin() | StartOf() | EndOf():
                waiting.append(node.body)
            case Then() | Without():
                waiting += (node.first, node.second)
            case Signal() | StateIs() | Compare() | Between() | OnDays() | At():
                pass
            case _:
                assert_never(node)


def _reached(plan: Plan, formula: Formula) -> set[str]:
    reached: set[str] = set()
    waiting = list(names_in(formula))
    while waiting:
        name = waiting.pop()
        if name not in reached:
            reached.add(name)
            if name in plan.signals:
                waiting += names_in(plan.signals[name].formula)
    return reached


def _given_by(part: Part) -> Iterator[tuple[str, SignalType]]:
    yield from SIGNALS_OF[part.kind].items()
    yield from EVERY_PART.items()
    if part.power == "battery":
        yield from BATTERY_PART.items()


def _names(plan: Plan, signals: Mapping[str, SignalType]) -> Names:
    return Names(
        signals,
        {name: state.values for name, state in plan.states.items()},
        frozenset(name for name, part in plan.parts.items() if part.kind in SWITCHED),
        {name: table.signal for name, table in plan.limits.items()},
    )
