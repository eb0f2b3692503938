"""Values that a plan writes as text and holds as more: durations, rules, actions."""

from typing import Annotated

from pydantic import PlainSerializer, WithJsonSchema
from pydantic.functional_validators import BeforeValidator

from stillwell.rules.formula import Action, Formula
from stillwell.rules.kinds import Mistake, RuleMistake
from stillwell.rules.parse import parse_action, parse_duration_ms, parse_formula
from stillwell.rules.words import duration_text


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
