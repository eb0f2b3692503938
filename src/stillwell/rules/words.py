"""A formula back to the text that a person would write; reading it again gives the same formula."""

from decimal import Decimal
from typing import assert_never

from stillwell.civiltime import ClockTime, TimeOfDay
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
from stillwell.rules.parse import DAYS, UNITS_MS


def duration_text(duration_ms: int) -> str:
    """Write a duration as rules do: 5400000 is ``1h30min``."""
    rest, pieces = duration_ms, []
    for unit in ("d", "h", "min", "s", "ms"):
        amount, rest = divmod(rest, UNITS_MS[unit])
        if unit == "d" and amount < 3:  # 36h reads better than 1d12h
            rest += amount * UNITS_MS[unit]
        elif amount:
            pieces.append(f"{amount}{unit}")
    return "".join(pieces) or "0s"


def time_text(time: TimeOfDay) -> str:
    """Write a time of day: ``08:00``, ``sunset-30min``."""
    if isinstance(time, ClockTime):
        return f"{time.minute // 60:02}:{time.minute % 60:02}"
    if not time.offset_ms:
        return time.event
    return f"{time.event}{'-' if time.offset_ms < 0 else '+'}{duration_text(abs(time.offset_ms))}"


def figure_text(number: float) -> str:
    """Write a figure of a comparison with all its digits and no exponent: ``16``, ``0.5``."""
    return f"{Decimal(repr(float(number))):f}".removesuffix(".0")


def formula_text(formula: Formula) -> str:
    """Write the formula in the rule language."""
    match formula:
        case Signal():
            return formula.name
        case StateIs():
            return f"{formula.state} is {formula.value}"
        case Compare():
            return f"{formula.name} {formula.op} {figure_text(formula.number)}{formula.unit}"
        case Between():
            return f"between {time_text(formula.start)} and {time_text(formula.end)}"
        case OnDays():
            return "on " + ", ".join(DAYS[day] for day in sorted(formula.days))
        case At():
            return f"at {time_text(formula.time)}"
        case Not(StateIs() as body):
            return f"{body.state} is not {body.value}"
        case Not():
            return f"not {_operand(formula.body)}"
        case And():
            return " and ".join(_inner(part, And) for part in formula.parts)
        case Or():
            return " or ".join(_inner(part, Or) for part in formula.parts)
        case HeldFor():
            return f"{_operand(formula.body)} for {duration_text(formula.duration_ms)}"
        case NoneFor():
            return f"no {_operand(formula.body)} for {duration_text(formula.duration_ms)}"
        case NoneForLimit():
            return f"no {_operand(formula.body)} for limit {formula.limit}"
        case CountWithin():
            return f"{formula.count} {_operand(formula.body)} within {duration_text(formula.duration_ms)}"
        case Then() | Without():
            word = "then" if isinstance(formula, Then) else "without"
            first, second = _operand(formula.first), _operand(formula.second)
            return f"{first} {word} {second} within {duration_text(formula.duration_ms)}"
        case StartOf():
            return f"start of {_operand(formula.body)}"
        case EndOf():
            return f"end of {_operand(formula.body)}"
        case _:
            assert_never(formula)


def action_text(action: Action) -> str:
    """Write the action in the rule language."""
    match action:
        case Switch():
            text = f"{action.part} {'on' if action.on else 'off'}"
            return text if action.for_ms is None else f"{text} for {duration_text(action.for_ms)}"
        case SetState():
            return f"set {action.state} to {action.value}"
        case _:
            assert_never(action)


_SIMPLE = (Signal, StateIs, Compare, Between, OnDays, At, StartOf, EndOf, Not)


def _operand(formula: Formula) -> str:
    text = formula_text(formula)
    return text if isinstance(formula, _SIMPLE) else f"({text})"


def _inner(formula: Formula, outer: type) -> str:
    """Write a part of and, or; in brackets where reading back would otherwise group it another way."""
    text = formula_text(formula)
    loose = isinstance(formula, Or) or (isinstance(formula, And) and outer is not Or)
    return f"({text})" if loose else text
