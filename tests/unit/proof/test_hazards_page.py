"""docs/hazards.md says of every kind of hazard what it does, and every figure as the code has it."""

import re
from pathlib import Path
from typing import get_args

import pytest

from stillwell.plan.model import HazardKind
from stillwell.proof import catalogue, faults

PAGES = Path(__file__).parents[3] / "docs"
PAGE = (PAGES / "hazards.md").read_text("utf-8")
UNITS = {"s": 1000, "min": 60_000, "m": 1, "": 1}


def rows(heading):
    """Return the rows of the table that follows a heading, or of the first one."""
    section = PAGE.partition(heading)[2].partition("\n## ")[0]
    lines = [line for line in section.splitlines() if line.startswith("| ")][1:]
    return [[cell.strip() for cell in line.strip("|").split(" | ")] for line in lines]


def figures():
    return [(name.strip("| `"), value) for _, value, name in rows("## The figures")]


def test_every_kind_of_hazard_has_a_row():
    kinds = [kind for row in rows("# The hazards") for kind in re.findall(r"`([a-z ]+)`", row[0])]
    assert sorted(kinds) == sorted(get_args(HazardKind))


@pytest.mark.parametrize(("name", "value"), [one for one in figures() if one[0] != "AT_REST"])
def test_a_figure_is_what_the_code_says(name, value):
    number, _, unit = value.partition(" ")
    module = faults if name == "LATE_MS" else catalogue
    assert getattr(module, name) == float(number) * UNITS[unit]


def test_numbers_at_rest_are_what_the_code_says():
    said = {value.partition(" ")[2]: float(value.partition(" ")[0]) for name, value in figures() if name == "AT_REST"}
    assert said == dict(catalogue.AT_REST)


def test_no_figure_of_the_catalogue_is_left_out():
    here = {name for name in vars(catalogue) if re.fullmatch(r"[A-Z_]+_(MS|TIMES|M)", name)} | {"LATE_MS", "AT_REST"}
    assert {name for name, _ in figures()} == here


def test_the_page_of_the_proof_names_files_that_are_there():
    for file in re.findall(r"`(tests/[a-z0-9_/]+\.py)`", (PAGES / "proof.md").read_text("utf-8")):
        assert (PAGES.parent / file).exists(), file
