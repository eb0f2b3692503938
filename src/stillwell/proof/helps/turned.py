"""A formula with some of its nodes replaced, as a tree and in the words it was written in."""

from dataclasses import replace

from stillwell.plan.model import Rule
from stillwell.rules.formula import (
    And,
    CountWithin,
    EndOf,
    Formula,
    HeldFor,
    NoneFor,
    NoneForLimit,
    Not,
    Or,
    StartOf,
    Then,
    Without,
)
from stillwell.rules.kinds import RuleMistake
from stillwell.rules.parse import parse_formula
from stillwell.rules.words import formula_text


def rebuilt(formula: Formula, old: Formula, new: Formula) -> Formula:
    """Return the formula with the very node ``old`` replaced by ``new``."""
    if formula is old:
        return new
    match formula:
        case And(parts) | Or(parts):
            return replace(formula, parts=tuple(rebuilt(part, old, new) for part in parts))
        case (
            Not(body)
            | HeldFor(body)
            | NoneFor(body)
            | NoneForLimit(body)
            | CountWithin(_, body)
            | StartOf(body)
            | EndOf(body)
        ):
            return replace(formula, body=rebuilt(body, old, new))
        case Then(first, second) | Without(first, second):
            return replace(formula, first=rebuilt(first, old, new), second=rebuilt(second, old, new))
        case _:
            return formula


def rewritten(rule: Rule, *swaps: tuple[Formula, Formula]) -> str:
    """Return the rule's text with nodes (old, new) swapped: only their own stretches where that reads as meant.

    No old node may stand in another. Where the stretches alone do not read as meant, all is written anew.
    """
    wanted = rule.formula
    for old, new in swaps:
        wanted = rebuilt(wanted, old, new)
    from_the_end = sorted(swaps, key=lambda swap: swap[0].at, reverse=True)
    for brackets in ("{}", "({})"):
        text = rule.text
        for old, new in from_the_end:
            start, end = old.at
            text = f"{text[:start]}{brackets.format(formula_text(new))}{text[end:]}"
        text = " ".join(text.split())
        if _reads_as(text, wanted):
            return text
    return formula_text(wanted)


def _reads_as(text: str, wanted: Formula) -> bool:
    try:
        return parse_formula(text) == wanted
    except RuleMistake:
        return False
