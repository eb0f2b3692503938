"""The protected share of the year against enumeration, against the curves it is made of, and by hand."""

import math
from itertools import pairwise, permutations
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.oracle.protected_share import enumerated
from tests.smallest import plan_of

from stillwell.plan.read import read_plan
from stillwell.proof.curve import joined_summary, latest
from stillwell.proof.deadlines import counted, deadlines
from stillwell.proof.prove import prove
from stillwell.proof.share.chances import chances
from stillwell.proof.share.hours import Class, Hours, hours_of
from stillwell.proof.share.protected import HOURS, _cut_sets, home_share, share_of
from stillwell.proof.tree.defaults import Figure, Mark

pytestmark = pytest.mark.base

ROOT = Path(__file__).parents[3]
COTTAGE = read_plan((ROOT / "examples/cottage/home.toml").read_text("utf-8"), "home.toml")
PROOF = prove(COTTAGE, 2026)

PEOPLE = {
    "ann": {"name": "Ann", "channels": {"call": "20s", "text": "1min"}, "reachable": "between 07:00 and 22:00"},
    "ben": {"name": "Ben", "channels": {"text": "30s"}, "reachable": "between 18:00 and 08:00 or on sun"},
    "eve": {"name": "Eve", "channels": {"call": "20s"}},
}
CALLS = {
    "all": {
        "steps": [
            {"whom": ["ann"], "by": "call", "wait": "3min"},
            {"whom": ["ann", "ben"], "by": "text", "wait": "20min"},
            {"whom": ["eve"], "by": "call", "wait": "5min"},
        ]
    }
}
WAYS_OUT = {"line": ["call"], "internet": ["call", "text"]}
SMOKE = plan_of(
    parts={
        "box": {"kind": "controller", "hold_up": "6h"},
        "hub": {"kind": "radio hub", "supervision": "5min"},
        "smoke_one": {"kind": "smoke", "hub": "hub", "supervision": "2h"},
        "smoke_two": {"kind": "smoke", "hub": "box", "supervision": "2h"},
    },
    people=PEOPLE,
    calls=CALLS,
    ways_out=WAYS_OUT,
    upkeep={"call": "all"},
    hazard=[{"name": "smoke", "kind": "smoke", "deadline": {"day": "5min", "night": "1h"}}],
    alarm=[{"name": "Smoke", "hazard": "smoke", "when": "smoke_one.smoke or smoke_two.smoke", "call": "all"}],
)
SMOKE_PROOF = prove(SMOKE, 2026)
ADDITIVE = (
    "box lost", "hub lost", "smoke_one late", "smoke_two stuck", "line out", "internet out", "ann unreachable",
    "ben unreachable", "eve unreachable",
)  # fmt: skip
DOOR = plan_of(
    parts={
        "upper": {"kind": "contact", "opening": "front_door", "supervision": "2h"},
        "lower": {"kind": "contact", "opening": "front_door", "supervision": "2h"},
    },
    rooms={"hall": {"outline": [[0, 0], [3, 0], [3, 3], [0, 3]]}},
    openings={"front_door": {"kind": "door", "rooms": ["hall", "outside"]}},
    hazard=[{"name": "out", "kind": "wandering", "deadline": {"day": "5min", "night": "5min"}}],
    alarm=[{"name": "Door", "hazard": "out", "when": "upper.opened or lower.opened", "call": "family"}],
)
DOOR_PROOF = prove(DOOR, 2026, pairs=True)
PAIR = ("upper lost", "lower lost", "upper late", "lower flat battery not noticed yet", "ben unreachable")


def filled(result, chance):
    """Give every fault a chance, 0 where none is given."""
    return {str(one.fault): chance.get(str(one.fault), 0) for one in result.faults}


def share(proof, chance):
    (result,) = proof.hazards
    known = {fault: Figure(value, Mark.SET, "the test") for fault, value in filled(result, chance).items()}
    return share_of(hours_of(proof.plan, result), known)


COTTAGE_HOURS = [(result, hours_of(COTTAGE, result)) for result in PROOF.hazards]
each_hazard = pytest.mark.parametrize(
    ("result", "hours"), COTTAGE_HOURS, ids=[result.hazard.name for result in PROOF.hazards]
)


@settings(max_examples=25)
@given(st.fixed_dictionaries(dict.fromkeys(ADDITIVE, st.floats(0, 1) | st.just(0.0))))
def test_the_share_is_that_of_every_set_of_faults(chance):
    """Here nothing but people and ways out is worse together than each alone, so that single faults say it all."""
    found = share(SMOKE_PROOF, chance)
    assert found.protected == pytest.approx(enumerated(SMOKE, SMOKE_PROOF.hazards[0], chance), abs=1e-12)


@settings(max_examples=25)
@given(st.fixed_dictionaries(dict.fromkeys(PAIR, st.floats(0, 1))))
def test_with_pairs_two_parts_that_stand_in_for_each_other_are_counted(chance):
    found = share(DOOR_PROOF, chance)
    assert found.protected == pytest.approx(enumerated(DOOR, DOOR_PROOF.hazards[0], chance), abs=1e-12)
    assert {frozenset({"upper lost", "lower lost"})} <= {one.faults for one in found.cut_sets}


def test_without_pairs_two_parts_that_stand_in_for_each_other_never_fail():
    proof = prove(DOOR, 2026)
    assert share(proof, {"upper lost": 1, "lower lost": 1}).protected == 1


@each_hazard
def test_where_nothing_fails_the_share_is_that_of_the_curve(result, hours):
    assert 1 - hours.late(filled(result, {})) == pytest.approx(result.normal.share_within, abs=1e-12)


@each_hazard
def test_where_one_fault_is_certain_the_share_is_that_of_its_curve(result, hours):
    """Where a fault makes an alarm come sooner, that is not counted as protection: the later of both counts."""
    limit = deadlines(COTTAGE, result)
    for one in result.faults:
        worse = latest([result.told, one.curve])
        within = joined_summary(counted(worse, limit), limit.at).share_within
        assert 1 - hours.late(filled(result, {str(one.fault): 1})) == pytest.approx(within, abs=1e-12)


@each_hazard
def test_what_fails_more_often_never_protects_better(result, hours):
    usual = {name: figure.value for name, figure in chances(COTTAGE, result.faults).items()}
    late = hours.late(usual)
    for fault, chance in usual.items():
        assert hours.late(usual | {fault: min(1, 2 * chance + 0.01)}) >= late - 1e-15
        assert hours.late(usual | {fault: 0}) <= late + 1e-15


@each_hazard
def test_a_contribution_is_what_comes_back_without_the_fault(result, hours):
    usual = chances(COTTAGE, result.faults)
    found = share_of(hours, usual)
    late = {name: figure.value for name, figure in usual.items()}
    assert found.lost_h_per_year == pytest.approx((1 - found.protected) * found.at_risk_h)
    for one in found.contributions:
        if one.fault != HOURS:
            without_h = hours.late(late | {one.fault: 0}) * found.at_risk_h
            assert one.lost_h_per_year == pytest.approx(found.lost_h_per_year - without_h, abs=1e-9)
            assert one.importance.criticality == pytest.approx(one.lost_h_per_year / found.lost_h_per_year)
            assert one.importance.criticality <= one.importance.fussell_vesely + 1e-12
    dearest_first = [one.lost_h_per_year for one in found.contributions]
    assert all(one >= other for one, other in pairwise(dearest_first))
    (always,) = [one.lost_h_per_year for one in found.contributions if one.fault == HOURS] or [0]
    assert always == pytest.approx((1 - result.normal.share_within) * found.at_risk_h, abs=1e-9)


@each_hazard
def test_the_sum_of_the_cut_sets_is_no_less_than_what_is_lost(result, hours):
    found = share_of(hours, chances(COTTAGE, result.faults))
    total = math.fsum(one.lost_h_per_year for one in found.cut_sets)
    assert found.lost_h_per_year <= total <= 1.05 * found.lost_h_per_year


def test_the_home_is_as_protected_as_where_it_is_least():
    home = home_share(PROOF)
    assert [one.hazard.name for one in home.hazards] == [hazard.name for hazard in COTTAGE.hazard]
    assert home.protected == home.least.protected == min(one.protected for one in home.hazards)
    assert home.least.hazard.name == "out at night"


def test_one_hazard_by_hand():
    """Told at any hour by one person who misses 1 in 10, a detector that is lost 1 % of the time: 0.99 * 0.9."""
    plan = plan_of(
        parts={"smoke": {"kind": "smoke"}},
        hazard=[{"name": "smoke", "kind": "smoke", "deadline": {"day": "5min", "night": "5min"}}],
        alarm=[{"name": "Smoke", "hazard": "smoke", "when": "smoke.smoke", "call": "family"}],
    )
    proof = prove(plan, 2026)
    found = share(proof, {"smoke lost": 0.01, "ben unreachable": 0.1})
    assert found.protected == pytest.approx(0.891, abs=1e-15)
    assert found.at_risk_h == 8760
    person, part = found.contributions[:2]
    assert (person.fault, person.lost_h_per_year) == ("ben unreachable", pytest.approx(8760 * 0.099))
    assert (part.fault, part.lost_h_per_year) == ("smoke lost", pytest.approx(8760 * 0.009))


def test_a_person_asleep_a_third_of_the_day_by_hand():
    """Ann hears calls for 15 h, Eve at any hour but 23 min later: by day in time unless Ann misses it, by night Eve."""
    plan = plan_of(
        parts={"smoke": {"kind": "smoke"}},
        people={"ann": PEOPLE["ann"], "eve": PEOPLE["eve"]},
        calls={
            "all": {
                "steps": [
                    {"whom": ["ann"], "by": "call", "wait": "23min"},
                    {"whom": ["eve"], "by": "call", "wait": "5min"},
                ]
            }
        },
        hazard=[{"name": "smoke", "kind": "smoke", "deadline": {"day": "5min", "night": "30min"}}],
        alarm=[{"name": "Smoke", "hazard": "smoke", "when": "smoke.smoke", "call": "all"}],
        home={"name": "x", "timezone": "Europe/London", "night": "between 22:00 and 07:00"},
    )
    proof = prove(plan, 2026)
    found = share(proof, {"ann unreachable": 0.1, "eve unreachable": 0.2})
    # Worked by hand. By day (15 of 24 h) Ann alone is in time, but for the last 20 s before 22:00, when her hours end
    # under way and the day's 5 min are too short for Eve. From 06:30:00 to 07:00 both are in time.
    day, both, eve, nobody = 15 * 3600 - 20, 30 * 60, 8.5 * 3600, 20
    assert day + both + eve + nobody == 24 * 3600
    in_time = (day * 0.9 + both * (1 - 0.1 * 0.2) + eve * 0.8) / (24 * 3600)
    assert found.protected == pytest.approx(in_time, abs=1e-12)
    assert found.contributions[0].fault == "eve unreachable"
    assert {one.faults: one.onsets for one in found.cut_sets} == {
        frozenset(): pytest.approx(nobody / 86_400),
        frozenset({"ann unreachable"}): pytest.approx(day / 86_400),
        frozenset({"eve unreachable"}): pytest.approx(eve / 86_400),
        frozenset({"ann unreachable", "eve unreachable"}): pytest.approx(both / 86_400),
        # no [ways_out] are given: one carries everything
        frozenset({"internet out"}): pytest.approx(1 - nobody / 86_400),
        # whatever else breaks at any hour
        frozenset({"smoke lost"}): pytest.approx(1 - nobody / 86_400),
        frozenset({"smoke flat battery not noticed yet"}): pytest.approx(1 - nobody / 86_400),
        frozenset({"smoke stuck"}): pytest.approx(1 - nobody / 86_400),
        frozenset({"message broker stopped"}): pytest.approx(1 - nobody / 86_400),
        # 10 min late: too late for the day's 5 min and for Eve, but not for Ann in the last half hour before 07:00
        frozenset({"smoke late"}): pytest.approx((day + eve) / 86_400),
        frozenset({"smoke late", "ann unreachable"}): pytest.approx(both / 86_400),
    }


def test_a_hazard_that_no_alarm_is_for_is_not_protected_at_all():
    plan = plan_of(
        parts={"smoke": {"kind": "smoke"}},
        hazard=[{"name": "smoke", "kind": "smoke", "deadline": {"day": "5min", "night": "5min"}}],
    )
    home = home_share(prove(plan, 2026))
    assert (home.protected, home.least.lost_h_per_year) == (0, 8760)
    assert [one.fault for one in home.least.contributions] == [HOURS]


def test_a_home_without_hazards_has_no_share():
    assert home_share(prove(plan_of(hazard=[]), 2026)).protected is None


def test_equally_costly_cut_sets_stand_in_order_of_name():
    # 0.1 x 0.2 x 0.3 and 0.3 x 0.2 x 0.1 differ in the last digit when multiplied as they come
    chance = {f"{place}{number}": place / 10 for place in (1, 2, 3) for number in range(6)}
    sets = [frozenset((f"1{a}", f"2{b}", f"3{c}")) for a, b, c in permutations(range(6), 3)]
    hours = Hours(None, 8760.0, (Class(1.0, None, tuple(sets)),))
    found = [sorted(one.faults) for one in _cut_sets(hours, chance)]
    assert found == sorted(found)
