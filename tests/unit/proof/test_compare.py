"""Two proofs side by side. The plans are small enough that the notice times are worked out by hand."""

import pytest
from tests.smallest import alarm, plan_of

from stillwell.proof.claims.decide import decide_claims
from stillwell.proof.compare import compare, compare_claims
from stillwell.proof.prove import prove
from stillwell.wording.compared import difference_sentence

pytestmark = pytest.mark.base

YEAR = 2026
DEADLINE = {"day": "1h", "night": "1h"}


def flood(limit="10min", *, name="flood", supervision="5h", deadline=DEADLINE, never=(), **more):
    """Water, told after it has stood for so long, by one person whom a message reaches in a millisecond."""
    tables = {
        "parts": {"tap": {"kind": "water", "supervision": supervision}, "lamp": {"kind": "lamp"}},
        "hazard": [{"name": name, "kind": "water", "deadline": deadline}],
        "alarm": [alarm(f"tap.wet for {limit}", name="Water", hazard=name)],
        "aid": [{"name": "Lamp", "when": "tap.wet", "do": ["lamp on"]}],
        "never": [{"claim": claim} for claim in never],
        "upkeep": {"call": "family"},
    }
    return plan_of(**tables | more)


def differences(before, after):
    one, two = prove(before, YEAR), prove(after, YEAR)
    return compare(one, two)


def said(before, after):
    return [(one.worse, difference_sentence(one, before)) for one in differences(before, after)]


def test_the_same_plan_is_neither_worse_nor_better():
    assert differences(flood(), flood()) == ()


def test_a_longer_limit_is_worse_and_a_shorter_one_better():
    """Told after 10 min and after 20 min, and a millisecond for the message: at most 10 min 1 s, to the second up."""
    sentence = 'At worst somebody knows of "flood" after {} rather than {}.'
    assert said(flood("10min"), flood("20min"))[0] == (True, sentence.format("21 min", "11 min"))
    assert said(flood("20min"), flood("10min"))[0] == (False, sentence.format("11 min", "21 min"))


def test_the_worst_is_to_the_millisecond():
    (first, *_) = differences(flood("10min"), flood("600001ms"))
    assert (first.what, first.worse) == ("worst", True)
    assert (first.before, first.after) == (600.001, 600.002)


def test_what_is_no_longer_looked_out_for_is_worse():
    assert said(flood(), flood(name="burst")) == [
        (True, '"flood" is no longer looked out for.'),
        (False, '"burst" is looked out for now.'),
    ]


def test_an_alarm_that_never_comes_any_more():
    gone = flood(alarm=[alarm("tap.wet and not tap.wet", name="Water", hazard="flood")])
    assert (True, 'At worst somebody knows of "flood" never, rather than after 11 min.') in said(flood(), gone)


def test_more_time_allowed_is_worse_although_nothing_else_changes():
    found = said(flood(), flood(deadline={"day": "1h", "night": "2h"}))
    assert found == [(True, 'For "flood" more time is allowed: 2 h rather than 1 h.')]


def test_a_lost_part_that_is_told_later():
    """The part counts as lost after its supervision time, and the message takes a millisecond; rounded up."""
    broken = "the tap lost, the battery of the tap flat, not noticed yet and the message broker stopped"
    sentence = f"With any of {broken}, somebody is told that it is so after 9 h 1 min rather than 5 h 1 min."
    assert said(flood(supervision="5h"), flood(supervision="9h")) == [(True, sentence)]


def test_a_claim_that_no_longer_holds():
    """Where the one rule there is sets the mode to day, it is never night; where it sets it to night, it may be."""
    modes = {"mode": {"values": ["day", "night"], "initial": "day"}}

    def decided(never, sets):
        aid = [{"name": "Mode", "when": "tap.wet", "do": [f"set mode to {sets}"]}]
        plan = flood(never=never, aid=aid, states=modes)
        return decide_claims(plan, prove(plan, YEAR).program, YEAR)

    holds, breaks = decided(["mode is night"], "day"), decided(["mode is night"], "night")
    lost = compare_claims(holds, breaks)
    assert [(one.worse, one.claim) for one in lost] == [(True, "mode is night")]
    assert compare_claims(holds, decided([], "day")) == lost  # it is no longer claimed
    assert compare_claims(breaks, breaks) == ()
    (found,) = compare_claims(breaks, holds)
    assert difference_sentence(found, flood()) == "Now this can never be: mode is night."
    assert difference_sentence(lost[0], flood()) == "It no longer holds that this can never be: mode is night."
