"""The proof with one thing broken, and with nothing broken, against lives that the live engine goes through.

Judged more strictly than in test_proof_laws.py: an alarm that stands at the onset has been answered at that very
moment, so that nobody counts as told before it asks again. ``benchmarks/prove.py --promise`` draws far more.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from tests.laws.proof_broken import broken_disagreements, faults_that_matter, later_than_proved
from tests.laws.proof_checks import workbench
from tests.laws.proof_plans import plans
from tests.laws.test_engine_laws import COMMON

pytestmark = pytest.mark.base


@settings(max_examples=30, **COMMON)
@given(plans())
def test_nobody_is_told_later_than_proved(plan):
    bench = workbench(plan, plan.hazard[0])
    assert list(later_than_proved(bench, np.random.default_rng(1), None, draws=20)) == []


@settings(max_examples=20, **COMMON)
@given(plans())
def test_nobody_is_told_later_than_proved_with_one_thing_broken(plan):
    bench = workbench(plan, plan.hazard[0])
    rng = np.random.default_rng(1)
    for fault in faults_that_matter(bench):
        assert list(later_than_proved(bench, rng, fault, draws=4)) == [], fault


@settings(max_examples=15, **COMMON)
@given(plans())
def test_each_curve_with_one_thing_broken_is_what_the_live_engine_does(plan):
    bench = workbench(plan, plan.hazard[0])
    rng = np.random.default_rng(1)
    for fault in faults_that_matter(bench):
        assert list(broken_disagreements(bench, rng, fault, worlds=4, near=3)) == [], fault
