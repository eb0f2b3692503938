"""The protected share of any plan: the same as proving the home with what is broken, and adding up."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.laws.proof_plans import plans
from tests.oracle.protected_share import enumerated

from stillwell.problem import Refusal
from stillwell.proof.curve import joined_summary, latest
from stillwell.proof.deadlines import counted, deadlines
from stillwell.proof.prove import prove
from stillwell.proof.share.hours import hours_of, on_the_way
from stillwell.proof.share.protected import home_share

pytestmark = pytest.mark.base


def proved(plan):
    """Return the proof, or None where there are too many histories to count out or nothing tells of the hazard."""
    try:
        proof = prove(plan, 2026)
    except Refusal:
        return None
    return proof if proof.hazards[0].worst is not None else None


@settings(max_examples=12)
@given(plans())
def test_one_fault_loses_what_its_curve_loses_besides_what_is_lost_anyway(plan):
    proof = proved(plan)
    if proof is None:
        return
    (result,) = proof.hazards
    limit = deadlines(plan, result)
    hours = hours_of(plan, result)
    nothing = dict.fromkeys((str(one.fault) for one in result.faults), 0.0)
    assert 1 - hours.late(nothing) == pytest.approx(result.normal.share_within, abs=1e-12)
    for one in result.faults:
        worse = latest([result.told, one.curve])
        within = joined_summary(counted(worse, limit), limit.at).share_within
        assert 1 - hours.late(nothing | {str(one.fault): 1.0}) == pytest.approx(within, abs=1e-12)


@settings(max_examples=15)
@given(plans(), st.data())
def test_people_and_ways_out_in_every_combination_with_one_part(plan, data):
    proof = proved(plan)
    if proof is None:
        return
    (result,) = proof.hazards
    chance = {str(one.fault): data.draw(st.floats(0, 1)) for one in result.faults if on_the_way(one.fault)}
    part = data.draw(st.sampled_from([str(one.fault) for one in result.faults if not on_the_way(one.fault)]))
    chance[part] = data.draw(st.floats(0, 1))
    every = dict.fromkeys((str(one.fault) for one in result.faults), 0.0) | chance
    assert 1 - hours_of(plan, result).late(every) == pytest.approx(enumerated(plan, result, chance), abs=1e-12)


@settings(max_examples=6)
@given(plans())
def test_contributions_and_cut_sets_account_for_what_is_lost(plan):
    proof = proved(plan)
    if proof is None:
        return
    (share,) = home_share(proof).hazards
    assert 0 <= share.protected <= 1
    assert share.lost_h_per_year == pytest.approx((1 - share.protected) * share.at_risk_h)
    assert sum(one.lost_h_per_year for one in share.cut_sets) >= share.lost_h_per_year - 1e-9
    assert all(-1e-9 <= one.lost_h_per_year <= share.lost_h_per_year + 1e-9 for one in share.contributions)
