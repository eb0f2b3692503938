"""Does a formula make sense: do its names exist, and does each word get the kind of signal it works on?"""

from collections.abc import Iterable
from difflib import get_close_matches
from typing import assert_never

from stillwell.rules.formula import (
    Action,
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
    SetState,
    Signal,
    StartOf,
    StateIs,
    Switch,
    Then,
    Without,
)
from stillwell.rules.kinds import Kind, Mistake, Names
from stillwell.rules.words import figure_text, formula_text


def check_formula(formula: Formula, names: Names) -> tuple[Kind | None, list[Mistake]]:
    """Return the kind of the whole formula (None where it cannot be told) and every mistake in it."""
    mistakes: list[Mistake] = []
    return _kind(formula, names, mistakes), mistakes


def check_action(action: Action, names: Names) -> list[Mistake]:
    """Return every mistake of an action: an unknown part or state, a part that takes no commands."""
    match action:
        case Switch():
            if action.part in names.switches:
                return []
            known = any(name.startswith(f"{action.part}.") for name in names.signals)
            what = f"{action.part} takes no commands" if known else f"there is no part {action.part!r}"
            return [Mistake(what, action.at, _nearest(action.part, names.switches, "Parts that do"))]
        case SetState():
            return _state_mistakes(action.state, action.value, action.at, names)
        case _:
            assert_never(action)


def _kind(formula: Formula, names: Names, mistakes: list[Mistake]) -> Kind | None:
    match formula:
        case Signal():
            return _signal_kind(formula, names, mistakes)
        case StateIs():
            mistakes += _state_mistakes(formula.state, formula.value, formula.at, names)
            return Kind.LEVEL
        case Compare():
            _check_compare(formula, names, mistakes)
            return Kind.LEVEL
        case Between() | OnDays():
            return Kind.LEVEL
        case At():
            return Kind.PULSE
        case Not():
            _want(Kind.LEVEL, formula.body, names, mistakes, "not")
            return Kind.LEVEL
        case And():
            return _and_kind(formula, names, mistakes)
        case Or():
            return _or_kind(formula, names, mistakes)
        case HeldFor():
            _want(Kind.LEVEL, formula.body, names, mistakes, "for")
            return Kind.LEVEL
        case NoneFor():
            _want(Kind.PULSE, formula.body, names, mistakes, "no")
            return Kind.LEVEL
        case NoneForLimit():
            _want(Kind.PULSE, formula.body, names, mistakes, "no")
            _check_limit(formula, names, mistakes)
            return Kind.LEVEL
        case CountWithin():
            _want(Kind.PULSE, formula.body, names, mistakes, "count")
            return Kind.LEVEL
        case Then() | Without():
            word = "then" if isinstance(formula, Then) else "without"
            _want(Kind.PULSE, formula.first, names, mistakes, word)
            _want(Kind.PULSE, formula.second, names, mistakes, word)
            return Kind.PULSE
        case StartOf() | EndOf():
            _want(Kind.LEVEL, formula.body, names, mistakes, "start of")
            return Kind.PULSE
        case _:
            assert_never(formula)


def _signal_kind(signal: Signal, names: Names, mistakes: list[Mistake]) -> Kind | None:
    found = names.signals.get(signal.name)
    if found is not None:
        return found.kind
    if signal.name in names.states:
        values = " or ".join(f"`{signal.name} is {value}`" for value in names.states[signal.name][:3])
        mistakes.append(Mistake(f"{signal.name} is a state", signal.at, f"Say {values}."))
        return None
    part, _, said = signal.name.partition(".")
    of_part = sorted(name for name in names.signals if name.startswith(f"{part}."))
    if of_part and not said:
        mistakes.append(Mistake(f"{part} is a part, not a signal", signal.at, f"Say {', '.join(of_part)}."))
    elif of_part:
        mistakes.append(Mistake(f"{part} has no signal {said!r}", signal.at, f"It has {', '.join(of_part)}."))
    else:
        hint = _nearest(signal.name, names.signals, "Known signals")
        mistakes.append(Mistake(f"there is no signal {signal.name!r}", signal.at, hint))
    return None


def _check_compare(compare: Compare, names: Names, mistakes: list[Mistake]) -> None:
    before = len(mistakes)
    kind = _signal_kind(Signal(compare.name, at=compare.at), names, mistakes)
    if len(mistakes) > before:
        return
    if kind is not Kind.NUMBER:
        mistakes.append(
            Mistake(f"{compare.name} is a {kind}, not a number", compare.at, "Only numbers can be compared.")
        )
        return
    unit = names.signals[compare.name].unit
    if unit != compare.unit:
        mistakes.append(
            Mistake(
                f"{compare.name} is measured in {unit}, not in {compare.unit}",
                compare.at,
                f"Say {compare.name} {compare.op} {figure_text(compare.number)}{unit}.",
            )
        )


def _check_limit(formula: NoneForLimit, names: Names, mistakes: list[Mistake]) -> None:
    meant = names.limits.get(formula.limit)
    if meant is None:
        hint = _nearest(formula.limit, names.limits, "Tables") or f"Write [limits.{formula.limit}]."
        mistakes.append(Mistake(f"there is no table of limits {formula.limit!r}", formula.at, hint))
    elif formula.body != Signal(meant):
        what = f"the limits {formula.limit} are for {meant}, not for {formula_text(formula.body)}"
        mistakes.append(Mistake(what, formula.body.at, f"Say `no {meant} for limit {formula.limit}`."))


def _and_kind(formula: And, names: Names, mistakes: list[Mistake]) -> Kind | None:
    kinds = [_kind(part, names, mistakes) for part in formula.parts]
    pulses = [part for part, kind in zip(formula.parts, kinds, strict=True) if kind is Kind.PULSE]
    _refuse_numbers(formula, kinds, mistakes)
    if len(pulses) > 1:
        first, second = formula_text(pulses[0]), formula_text(pulses[1])
        mistakes.append(
            Mistake(
                "two pulses hardly ever come in the same instant",
                pulses[1].at,
                f"Say `{first} then {second} within 5min`, or `or`.",
            )
        )
    return Kind.PULSE if pulses else Kind.LEVEL


def _or_kind(formula: Or, names: Names, mistakes: list[Mistake]) -> Kind | None:
    kinds = [_kind(part, names, mistakes) for part in formula.parts]
    _refuse_numbers(formula, kinds, mistakes)
    if Kind.PULSE in kinds and Kind.LEVEL in kinds:
        level = formula.parts[kinds.index(Kind.LEVEL)]
        mistakes.append(
            Mistake(
                f"{formula_text(level)} is a level and cannot stand beside a pulse",
                level.at,
                f"Say `start of {formula_text(level)}` for the moment it begins.",
            )
        )
        return None
    return Kind.PULSE if Kind.PULSE in kinds else Kind.LEVEL


def _refuse_numbers(formula: And | Or, kinds: list[Kind | None], mistakes: list[Mistake]) -> None:
    for part, kind in zip(formula.parts, kinds, strict=True):
        if kind is Kind.NUMBER:
            mistakes.append(_number_alone(part))


def _number_alone(part: Formula) -> Mistake:
    text = formula_text(part)
    return Mistake(f"{text} is a number", part.at, f"Compare it: `{text} < 16C`, with its own unit.")


_WANTS = {
    "not": "`not` works on a level",
    "for": "`for` works on a level",
    "no": "`no ... for` works on a pulse",
    "count": "counting works on a pulse",
    "then": "`then` works on pulses",
    "without": "`without` works on pulses",
    "start of": "`start of` and `end of` work on a level",
}


def _want(kind: Kind, body: Formula, names: Names, mistakes: list[Mistake], word: str) -> None:
    found = _kind(body, names, mistakes)
    if found is None or found is kind:
        return
    text = formula_text(body)
    if found is Kind.NUMBER:
        mistakes.append(_number_alone(body))
    elif found is Kind.PULSE:
        hint = f"say `no {text} for 3h`" if word in {"not", "for"} else f"say `{text}` alone"
        mistakes.append(Mistake(f"{text} is a pulse: {hint}", body.at, f"{_WANTS[word]}."))
    else:
        edge = f"`start of {text}`" if isinstance(body, Signal) else f"`start of ({text})`"
        hint = f"say {edge} for the moment it begins"
        if word == "no":
            hint = f"say `not {text} for ...`" if isinstance(body, Signal) else "say `not (...) for ...`"
            hint = f"{hint}, or {edge}"
        mistakes.append(Mistake(f"{text} is a level: {hint}", body.at, f"{_WANTS[word]}."))


def _state_mistakes(state: str, value: str, at: tuple[int, int], names: Names) -> list[Mistake]:
    if state not in names.states:
        return [Mistake(f"there is no state {state!r}", at, _nearest(state, names.states, "States"))]
    values = names.states[state]
    if value not in values:
        return [Mistake(f"{state} is never {value!r}", at, f"It is one of: {', '.join(values)}.")]
    return []


def _nearest(name: str, known: Iterable[str], label: str) -> str:
    names = sorted(known)
    close = get_close_matches(name, names, n=3, cutoff=0.6)
    if close:
        return f"Did you mean {' or '.join(close)}?"
    return f"{label}: {', '.join(names[:12])}{'...' if len(names) > 12 else ''}." if names else ""
