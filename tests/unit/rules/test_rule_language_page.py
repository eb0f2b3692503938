"""The page on the rule language holds every construct, and each example on it can be read."""

import re
from pathlib import Path
from typing import get_args

import pytest

from stillwell.rules import formula
from stillwell.rules.formula import Action, Formula
from stillwell.rules.kinds import RuleMistake
from stillwell.rules.parse import parse_action, parse_formula

pytestmark = pytest.mark.base

PAGE = Path(__file__).parents[3] / "docs" / "rule-language.md"


def examples() -> list[str]:
    rows = [line for line in PAGE.read_text("utf-8").splitlines() if line.startswith("|")]
    return [text for row in rows for text in re.findall(r"`([^`]+)`", row.rsplit("|", 2)[1])]


def read(text: str):
    try:
        return parse_formula(text)
    except RuleMistake:
        return parse_action(text)


def kinds_in(node) -> set[type]:
    found = {type(node)}
    for name in ("body", "first", "second"):
        if hasattr(node, name):
            found |= kinds_in(getattr(node, name))
    for part in getattr(node, "parts", ()):
        found |= kinds_in(part)
    return found


@pytest.mark.parametrize("text", examples())
def test_each_example_can_be_read(text):
    read(text)


def test_each_construct_has_an_example():
    shown = set().union(*(kinds_in(read(text)) for text in examples()))
    assert shown == {*get_args(Formula), *get_args(Action)}


def test_each_word_of_the_grammar_is_on_the_page():
    grammar = (Path(formula.__file__).parent / "grammar.lark").read_text("utf-8")
    rules = grammar[: grammar.index("DURATION.4")]
    words = set(re.findall(r'"([a-z]+)"', rules))
    page = PAGE.read_text("utf-8")
    assert {word for word in words if not re.search(rf"`[^`]*\b{word}\b[^`]*`", page)} == set()
