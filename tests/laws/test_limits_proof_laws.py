"""The proof of tables of limits against the live engine: equal world by world, and no history is told later.

As tests/laws/test_proof_laws.py, for alarms that wait for a table: which sign was the last, and when, decides.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from tests.laws.proof_broken import broken_disagreements, faults_that_matter, later_than_proved
from tests.laws.proof_checks import disagreements, lateness, misjudged_witnesses, workbench
from tests.laws.proof_plans import plans
from tests.laws.test_engine_laws import COMMON

from stillwell.problem import Refusal
from stillwell.proof.prove import prove

pytestmark = pytest.mark.base


@settings(max_examples=30, **COMMON)
@given(plans(["collapse", "wandering"], with_tables=True))
def test_each_curve_is_what_the_live_engine_does(plan):
    bench = workbench(plan, plan.hazard[0])
    assert list(disagreements(bench, np.random.default_rng(1), minutes=2, near=2)) == []


@settings(max_examples=40, **COMMON)
@given(plans(["collapse"], with_tables=True))
def test_no_history_is_told_later_than_proved(plan):
    bench = workbench(plan, plan.hazard[0])
    rng = np.random.default_rng(1)
    assert [*lateness(bench, rng, draws=8), *lateness(bench, rng, draws=16, heard_at_onset=False)] == []


@settings(max_examples=20, **COMMON)
@given(plans(["collapse"], with_tables=True))
def test_nobody_is_told_later_than_proved_with_one_thing_broken(plan):
    bench = workbench(plan, plan.hazard[0])
    rng = np.random.default_rng(1)
    for fault in [None, *faults_that_matter(bench)]:
        assert list(later_than_proved(bench, rng, fault, draws=4)) == [], fault


@settings(max_examples=10, **COMMON)
@given(plans(["collapse"], with_tables=True))
def test_each_curve_with_one_thing_broken_is_what_the_live_engine_does(plan):
    bench = workbench(plan, plan.hazard[0])
    rng = np.random.default_rng(1)
    for fault in faults_that_matter(bench):
        assert list(broken_disagreements(bench, rng, fault, worlds=3, near=2)) == [], fault


@settings(max_examples=15, **COMMON)
@given(plans(["collapse"], with_tables=True))
def test_both_evaluators_are_as_late_on_the_witness_as_the_proof_says(plan):
    try:
        proof = prove(plan, 2026, faults=())
    except Refusal:
        return
    assert list(misjudged_witnesses(plan, proof)) == []
