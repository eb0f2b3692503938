"""Whatever a plan says: its worst case is a record, and the live engine is as late on it as the proof says."""

from hypothesis import HealthCheck, given, settings
from tests.laws.proof_plans import plans
from tests.oracle.asked import first_told

from stillwell.engine import columns, walk
from stillwell.problem import Refusal
from stillwell.proof.prove import prove
from stillwell.proof.proved import Shown
from stillwell.replay.chain import Chain


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(plans())
def test_both_evaluators_are_as_late_on_the_witness_as_the_proof_says(plan):
    try:
        proof = prove(plan, 2026, faults=())
    except Refusal:
        return
    for result in proof.hazards:
        case = Shown(plan, proof, result)
        if result.worst is None:
            continue
        assert case.witness is not None
        for evaluate in (columns.run, walk.run):
            outcome = evaluate(proof.program, case.witness.record)
            assert first_told(plan, Chain(plan), outcome, result.alarms, case.onset_ms) == case.told_ms
