"""Whatever a plan says: its worst case is a record, and the live engine is as late on it as the proof says."""

from hypothesis import HealthCheck, given, settings
from tests.laws.proof_checks import misjudged_witnesses
from tests.laws.proof_plans import plans

from stillwell.problem import Refusal
from stillwell.proof.prove import prove


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(plans())
def test_both_evaluators_are_as_late_on_the_witness_as_the_proof_says(plan):
    try:
        proof = prove(plan, 2026, faults=())
    except Refusal:
        return
    assert list(misjudged_witnesses(plan, proof)) == []
