"""Values that a plan writes as text and holds as more: durations, rules, actions."""

import re
from typing import Annotated, Final

from pydantic import PlainSerializer, WithJsonSchema
from pydantic.functional_validators import BeforeValidator

from stillwell.civiltime import ClockTime
from stillwell.rules.formula import Action, Formula, OnDays
from stillwell.rules.kinds import Mistake, RuleMistake
from stillwell.rules.parse import DAYS, parse_action, parse_duration_ms, parse_formula
from stillwell.rules.words import duration_text, time_text

EVERY_DAY: Final = frozenset(range(7))
DAY_KINDS: Final = {"all": EVERY_DAY, "weekdays": frozenset(range(5)), "weekends": frozenset({5, 6})}
"""Words for days of the week, Monday 0 to Sunday 6."""


class RuleFault(ValueError):  # noqa: N818 - the text's fault, not the program's
    """A text that cannot be read, on its way through pydantic; carries where in the text."""

    def __init__(self, mistake: Mistake, code: str = "bad-rule") -> None:
        self.mistake = mistake
        self.code = code
        super().__init__(mistake.what)


class Rule:
    """A formula with the text it was written as. Equal formulas are equal rules."""

    __slots__ = ("formula", "text")

    def __init__(self, text: str, formula: Formula) -> None:
        self.text = text
        self.formula = formula

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Rule) and other.formula == self.formula

    def __hash__(self) -> int:
        return hash(self.formula)

    def __repr__(self) -> str:
        return f"Rule({self.text!r})"


class Deed:
    """An action with the text it was written as."""

    __slots__ = ("action", "text")

    def __init__(self, text: str, action: Action) -> None:
        self.text = text
        self.action = action

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Deed) and other.action == self.action

    def __hash__(self) -> int:
        return hash(self.action)

    def __repr__(self) -> str:
        return f"Deed({self.text!r})"


def _duration(value: object) -> object:
    if isinstance(value, str):
        try:
            return parse_duration_ms(value)
        except RuleMistake as mistake:
            raise RuleFault(mistake.mistake, "bad-duration") from mistake
    said = f"{value:g}" if isinstance(value, (int, float)) and not isinstance(value, bool) else "this"
    example = said if said.isdecimal() else "3"
    hint = f'Say "{example}min" or "{example}h", in quotes.'
    raise RuleFault(Mistake(f"{said} has no unit, and a duration needs one", (0, 0), hint), "bad-duration")


def _rule(value: object) -> object:
    if not isinstance(value, str):
        return value
    try:
        return Rule(value, parse_formula(value))
    except RuleMistake as mistake:
        raise RuleFault(mistake.mistake) from mistake


def _deed(value: object) -> object:
    if not isinstance(value, str):
        return value
    try:
        return Deed(value, parse_action(value))
    except RuleMistake as mistake:
        raise RuleFault(mistake.mistake, "bad-action") from mistake


def _clock(value: object) -> object:
    if isinstance(value, ClockTime):
        return value
    found = re.fullmatch(r"(\d{1,2}):(\d\d)", value) if isinstance(value, str) else None
    if found is None or int(found[1]) > 23 or int(found[2]) > 59:
        raise RuleFault(Mistake("this is no time of day", (0, 0), 'Write it in quotes, as in "22:00".'), "bad-time")
    return ClockTime(int(found[1]) * 60 + int(found[2]))


def _days(value: object) -> object:
    if isinstance(value, frozenset):
        return value
    if isinstance(value, str) and value in DAY_KINDS:
        return DAY_KINDS[value]
    try:
        said = parse_formula(f"on {value}")
    except RuleMistake:
        said = None
    if not isinstance(value, str) or not isinstance(said, OnDays):
        hint = 'Write all, weekdays, weekends, or days as in "mon-thu, sun".'
        raise RuleFault(Mistake("these are no days of the week", (0, 0), hint), "bad-days")
    return said.days


def days_text(days: frozenset[int]) -> str:
    """Write days of the week: ``weekdays``, ``mon, wed``."""
    for word, those in DAY_KINDS.items():
        if days == those:
            return word
    return ", ".join(DAYS[day] for day in sorted(days))


_TEXT = WithJsonSchema({"type": "string"})

DurationMs = Annotated[
    int,
    BeforeValidator(_duration),
    PlainSerializer(duration_text, return_type=str),
    WithJsonSchema({"type": "string", "pattern": r"^([0-9]+(\.[0-9]+)?(ms|s|min|h|d))+$"}),
]
"""Milliseconds; written as ``90s``, ``10min``, ``3h``, ``2h30min``."""

RuleText = Annotated[Rule, BeforeValidator(_rule), PlainSerializer(lambda rule: rule.text, return_type=str), _TEXT]
DeedText = Annotated[Deed, BeforeValidator(_deed), PlainSerializer(lambda deed: deed.text, return_type=str), _TEXT]
ClockText = Annotated[
    ClockTime,
    BeforeValidator(_clock),
    PlainSerializer(time_text, return_type=str),
    WithJsonSchema({"type": "string", "pattern": r"^([01]?[0-9]|2[0-3]):[0-5][0-9]$"}),
]
"""A time of the local day; written as ``22:00``."""

DaysText = Annotated[frozenset[int], BeforeValidator(_days), PlainSerializer(days_text, return_type=str), _TEXT]
"""Days of the week, Monday 0 to Sunday 6; written as ``weekdays`` or ``mon-thu, sun``."""
