from pathlib import Path

import pytest

from stillwell.alarms import life
from stillwell.alarms.events import (
    Acknowledged,
    PutBack,
    Raised,
    ReAlarmed,
    Returned,
    Shelved,
    TakenOut,
    Unshelved,
)
from stillwell.alarms.life import NORMAL, TABLE, WORDS, Goes, Life, Resumes, State, Stays

pytestmark = pytest.mark.base

PAGE = Path(__file__).parents[3] / "docs" / "alarm-life.md"
EVERY_EVENT = {Raised, Returned, Acknowledged, ReAlarmed, Shelved, Unshelved, TakenOut, PutBack}


def lived(*timed):
    now = NORMAL
    for now_ms, event in timed:
        now = life.step(now, event, now_ms)
    return now


def test_every_state_answers_every_event_with_a_reason():
    assert set(TABLE) == set(State)
    for row in TABLE.values():
        assert set(row) == EVERY_EVENT == set(WORDS)
        assert all(isinstance(found, Goes | Resumes | Stays) and found.why for found in row.values())


def test_a_raise_an_answer_and_the_end():
    raised = lived((1_000, Raised()))
    assert raised == Life(State.UNACKNOWLEDGED, condition=True, raised_at_ms=1_000, asked_at_ms=1_000)
    answered = life.step(raised, Acknowledged("Ann", asked_at_ms=1_000), 61_000)
    assert answered.state is State.ACKNOWLEDGED
    assert (answered.by, answered.acknowledged_at_ms, answered.raised_at_ms) == ("Ann", 61_000, 1_000)
    assert life.step(answered, Returned(), 90_000) == NORMAL


def test_what_ends_before_an_answer_still_waits_for_one():
    over = lived((1_000, Raised()), (5_000, Returned()))
    assert (over.state, over.condition, over.raised_at_ms) == (State.RETURNED, False, 1_000)
    assert life.step(over, Acknowledged("Ann"), 9_000) == NORMAL


def test_true_again_before_an_answer_is_the_same_asking():
    again = lived((1_000, Raised()), (5_000, Returned()), (8_000, Raised()))
    assert (again.state, again.raised_at_ms, again.asked_at_ms) == (State.UNACKNOWLEDGED, 1_000, 1_000)


def test_an_answer_to_yesterdays_alarm_does_not_silence_todays():
    today = lived((1_000, Raised()), (2_000, Returned()), (3_000, Acknowledged("Ann")), (90_000, Raised()))
    late = Acknowledged("Ben", asked_at_ms=1_000)
    assert life.step(today, late, 91_000) == today
    assert life.entry(today, late, 91_000) == Stays("the answer is to an earlier asking")


def test_asking_again_makes_a_doubled_old_answer_void():
    answered = lived((1_000, Raised()), (2_000, Acknowledged("Ann", asked_at_ms=1_000)))
    again = life.step(answered, ReAlarmed(), 60_000)
    assert (again.state, again.asked_at_ms, again.raised_at_ms) == (State.UNACKNOWLEDGED, 60_000, 1_000)
    assert (again.by, again.acknowledged_at_ms) == (None, None)
    assert life.step(again, Acknowledged("Ann", asked_at_ms=1_000), 61_000) == again


def test_a_shelf_ends_by_itself_and_tells_what_is_still_true():
    shelved = lived((1_000, Shelved("Ann", until_ms=50_000)), (2_000, Raised()))
    assert (shelved.state, shelved.by, life.deadline(shelved)) == (State.SHELVED, "Ann", 50_000)
    assert life.advance(shelved, 49_999) == shelved
    # The end is noticed 10 s late, yet the asking counts from the end itself.
    back = life.advance(shelved, 60_000)
    assert back == Life(State.UNACKNOWLEDGED, condition=True, raised_at_ms=2_000, asked_at_ms=50_000)
    assert life.deadline(back) is None


def test_a_shelf_ends_as_normal_when_the_condition_has_ended():
    shelved = lived((1_000, Raised()), (2_000, Shelved("Ann", until_ms=50_000)), (3_000, Returned()))
    assert shelved.raised_at_ms is None
    assert life.step(shelved, Unshelved(), 4_000) == NORMAL


def test_an_event_after_the_shelfs_end_finds_it_ended():
    shelved = lived((1_000, Raised()), (2_000, Shelved("Ann", until_ms=50_000)))
    assert life.step(shelved, Acknowledged("Ben", asked_at_ms=50_000), 70_000).state is State.ACKNOWLEDGED


def test_the_newest_end_of_a_shelf_holds():
    shelved = lived((1_000, Shelved("Ann", until_ms=50_000)), (2_000, Shelved("Ben", until_ms=30_000)))
    assert (shelved.shelved_until_ms, shelved.by) == (30_000, "Ben")


@pytest.mark.parametrize("until_ms", [0, 4_999, 5_000])
def test_a_shelf_that_would_be_over_is_none(until_ms):
    raised = lived((1_000, Raised()))
    assert life.step(raised, Shelved("Ann", until_ms), 5_000) == raised


def test_out_of_service_keeps_the_condition_and_waits_for_a_hand():
    out = lived((1_000, TakenOut("Ann")), (2_000, Raised()), (3_000, Shelved("Ben", until_ms=9_000)))
    assert (out.state, out.condition, out.by, life.deadline(out)) == (State.OUT_OF_SERVICE, True, "Ann", None)
    back = life.step(out, PutBack(), 10_000)
    assert (back.state, back.raised_at_ms, back.asked_at_ms) == (State.UNACKNOWLEDGED, 2_000, 10_000)


@pytest.mark.parametrize(
    ("change", "met"),
    [
        ({"state": "asleep"}, "asleep"),
        ({"state": None}, "state is None: a text"),
        ({"condition": 1}, "condition is 1: true or false"),
        ({"raised_at_ms": "noon"}, "raised_at_ms is 'noon': a whole number"),
        ({"raised_at_ms": True}, "raised_at_ms is True: a whole number"),
        ({"by": 7}, "by is 7: a text"),
        ({"condition": False}, "contradict the state 'acknowledged'"),
        ({"shelved_until_ms": 9}, "contradict the state 'acknowledged'"),
        ({"by": None}, "contradict the state 'acknowledged'"),
    ],
)
def test_what_no_life_wrote_is_not_read_as_one(change, met):
    stored = life.to_json(lived((1_000, Raised()), (2_000, Acknowledged("Ann"))))
    with pytest.raises(ValueError, match=met):
        life.from_json(stored | change)


def test_the_diagram_has_an_arrow_for_every_change_and_no_other():
    arrows = {
        (start.value, end.value)
        for start, row in TABLE.items()
        for found in row.values()
        for end in (
            [found.to]
            if isinstance(found, Goes)
            else [State.UNACKNOWLEDGED, State.NORMAL]
            if isinstance(found, Resumes)
            else []
        )
    }
    lines = life.diagram().splitlines()
    # Mermaid's grammar for state diagrams: a header, `state "words" as name`, `name --> name: label`.
    assert lines[0] == "stateDiagram-v2"
    named = {line.split(" as ")[1]: line.split('"')[1] for line in lines if " as " in line}
    drawn = [line.split(": ")[0].strip().split(" --> ") for line in lines if "-->" in line and "[*]" not in line]
    assert {(named[start], named[end]) for start, end in drawn} == arrows
    assert len(drawn) == len(arrows)


def test_the_page_holds_the_present_diagram():
    page = PAGE.read_text(encoding="utf-8")
    assert f"```mermaid\n{life.diagram()}```\n" in page, (
        "docs/alarm-life.md is behind the table: put stillwell.alarms.life.diagram() into it"
    )


def test_the_page_explains_every_state():
    page = PAGE.read_text(encoding="utf-8")
    assert all(f"| **{state.value}** |" in page for state in State)
