"""The page about the plan file: its examples together are a plan, its tables are complete, its errors are real."""

import re
from pathlib import Path

import pytest

from stillwell.plan.kinds import SIGNALS_OF
from stillwell.plan.model import HazardKind
from stillwell.plan.read import read_plan
from stillwell.problem import Refusal

pytestmark = pytest.mark.base

PAGE = (Path(__file__).parents[3] / "docs/home-file.md").read_text("utf-8")
PLAN = "\n".join(re.findall(r"```toml\n(.*?)```", PAGE, re.DOTALL))


def test_the_examples_together_are_a_plan():
    plan = read_plan(PLAN, "home.toml")
    assert len(plan.parts) == 5
    assert len(plan.alarm) == 2


def test_the_table_of_kinds_and_signals_is_whole():
    rows = [line.strip("|").split("|") for line in PAGE.split("\n") if line.startswith("| `")]
    told = {}
    for cells in rows:
        for kinds, signals in (cells[:2], cells[2:]):
            for kind in re.findall(r"`([^`]+)`", kinds):
                units = dict(re.findall(r"`([^`]+)` \(([^)]+)\)", signals))
                told[kind] = {name: units.get(name, "") for name in re.findall(r"`([^`]+)`", signals)}
    assert told == {kind: {name: one.unit for name, one in signals.items()} for kind, signals in SIGNALS_OF.items()}


def test_all_kinds_of_hazard_are_named():
    assert all(f"`{kind}`" in PAGE for kind in HazardKind.__args__)


def test_the_errors_shown_are_those_that_are_told():
    text = PLAN.replace('kind = "movement"', 'kind = "motion"').replace("no sign_of_life for 3h", "sign_of_life for 3h")
    with pytest.raises(Refusal) as refusal:
        read_plan(text, "home.toml")
    shown = re.findall(r"```text\n(.*?)```", PAGE, re.DOTALL)[0]
    for line, told in zip(shown.strip().split("\n"), str(refusal.value).split("\n"), strict=True):
        assert told.startswith(line.removesuffix("..."))
