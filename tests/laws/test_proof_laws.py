"""The proof against the live engine: equal where both look at one world, and never too optimistic about a real history.

The slow side is tests/oracle/stepped_notice.py: one onset, one world, event by event, then the call list person by
person. ``benchmarks/prove.py --promise`` draws far more.
"""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from tests.laws.proof_checks import disagreements, lateness, workbench
from tests.laws.proof_plans import plans
from tests.laws.test_engine_laws import COMMON

from stillwell.plan.read import read_plan

pytestmark = pytest.mark.base

COTTAGE = Path(__file__).parents[2] / "examples" / "cottage" / "home.toml"


@settings(max_examples=40, **COMMON)
@given(plans())
def test_each_curve_is_what_the_live_engine_does(plan):
    bench = workbench(plan, plan.hazard[0])
    assert list(disagreements(bench, np.random.default_rng(1), minutes=2, near=2)) == []


@settings(max_examples=40, **COMMON)
@given(plans())
def test_no_history_is_told_later_than_proved(plan):
    bench = workbench(plan, plan.hazard[0])
    assert list(lateness(bench, np.random.default_rng(1), draws=15)) == []


PLAN = read_plan(COTTAGE.read_text("utf-8"), "home.toml")


@pytest.mark.parametrize("hazard", PLAN.hazard, ids=lambda hazard: hazard.name)
def test_the_demo_home_is_what_the_live_engine_does(hazard):
    bench = workbench(PLAN, hazard)
    assert list(disagreements(bench, np.random.default_rng(7), minutes=25, near=25)) == []
