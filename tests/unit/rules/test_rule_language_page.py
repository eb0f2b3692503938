"""The page on the rule language holds every construct, and each example on it can be read."""

import re
from pathlib import Path
from typing import get_args

import pytest

from stillwell.rules import formula, parse
from stillwell.rules.formula import Action, Formula
from stillwell.rules.kinds import RuleMistake
from stillwell.rules.parse import parse_action, parse_formula

pytestmark = pytest.mark.base

PAGE = (Path(__file__).parents[3] / "docs/rule-language.md").read_text("utf-8")
FORMULAS_PART, _, ACTIONS_PART = PAGE.partition("## Actions")
GRAMMAR = Path(formula.__file__).with_name("grammar.lark").read_text("utf-8")
RULES = GRAMMAR[: GRAMMAR.index("DURATION.4")]


def examples(part):
    """Return what stands in the last column of the tables that have a column of examples."""
    tables = re.findall(r"^\|[^\n]*\| example \|\n.*?\n\n", part, re.DOTALL | re.MULTILINE)
    return [text for table in tables for row in table.split("\n") for text in re.findall(r"`([^`]+)`", last(row))]


def last(row):
    cells = row.strip("|").split("|")
    return cells[-1]


FORMULAS = examples(FORMULAS_PART)
ACTIONS = examples(ACTIONS_PART)


def nodes_in(node):
    found = {type(node)}
    for name in ("body", "first", "second"):
        if hasattr(node, name):
            found |= nodes_in(getattr(node, name))
    for part in getattr(node, "parts", ()):
        found |= nodes_in(part)
    return found


def test_each_row_has_an_example_that_can_be_read():
    rows = [line for line in PAGE.split("\n") if line.startswith("| ") and "`" in line]
    assert all("`" in last(row) for row in rows)
    assert len(FORMULAS) >= 18
    assert len(ACTIONS) >= 3


def test_each_kind_of_node_has_an_example():
    shown = set().union(*map(nodes_in, [*map(parse_formula, FORMULAS), *map(parse_action, ACTIONS)]))
    assert shown == {*get_args(Formula), *get_args(Action)}


def test_each_line_of_the_grammar_has_an_example():
    reader = parse._parser()
    trees = [reader.parse(text, start="formula") for text in FORMULAS]
    trees += [reader.parse(text, start="action") for text in ACTIONS]
    shown = {str(one.data) for tree in trees for one in tree.iter_subtrees()}
    assert set(re.findall(r"->\s*(\w+)", RULES)) - shown == set()


def test_each_word_of_the_grammar_is_on_the_page():
    words = set(re.findall(r'"([a-z]+)"', RULES))
    assert {word for word in words if not re.search(rf"`[^`\n]*\b{word}\b[^`\n]*`", PAGE)} == set()


def test_units_and_limits_are_the_real_ones():
    units = re.search(r"Units: ([^|]+) \|", PAGE).group(1).split(", ")
    assert {parse_formula(f"a.b < 1{unit}").unit for unit in units} == {"C", "%", "ppm", "ug/m3", "W", "lx"}
    limits = re.search(r"`1ms` to `(\d+)d`.+ 1 to (\d+)\. .+ (\d+) characters .+ (\d+) deep", PAGE.replace("\n", " "))
    longest_d, most, characters, deep = map(int, limits.groups())
    assert (longest_d * 86_400_000, characters, deep) == (parse.LONGEST_MS, parse.LONGEST_RULE, parse.DEEPEST_RULE)
    assert parse_formula(f"{most} a.b within {longest_d}d") == formula.CountWithin(
        most, formula.Signal("a.b"), parse.LONGEST_MS
    )
    for refused in (f"{most + 1} a.b within 1h", f"no a.b for {longest_d}d1ms"):
        with pytest.raises(RuleMistake):
            parse_formula(refused)
