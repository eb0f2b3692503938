"""Instants worked by hand; a home is dark ten minutes after the last proof of life."""

import json

import pytest

from stillwell.alarms.call_list import CallList, Channel, Responder, Step
from stillwell.alarms.events import Acknowledged, Cannot
from stillwell.alarms.life import State
from stillwell.heartbeat import Beat
from stillwell.keeper import dark
from stillwell.keeper.dark import Fact, Terms

pytestmark = pytest.mark.base

MIN = 60_000
PEOPLE = (Responder("ann", (Channel("text"),)), Responder("ben", (Channel("text"),)))
STEPS = (Step(("ann",), "text", 300), Step(("ben",), "text", 300))
TERMS = Terms("mill", 10 * MIN, 3 * MIN, CallList("street", PEOPLE, STEPS, "repeat", 7_200))


def beat(seq, keeper_ms, *, at_ms=0, boot=1):
    return Beat("mill", boot, seq, at_ms, keeper_ms, "plan")


def alive_at(at_ms):
    """A home proven alive at that instant."""
    return dark.heard(TERMS, dark.begin(TERMS, 0), beat(1, at_ms), at_ms).state


def dark_home():
    return dark.pass_time(TERMS, alive_at(MIN), 11 * MIN)


def test_it_goes_dark_at_the_instant_and_not_before():
    state = alive_at(MIN)
    assert dark.deadline(TERMS, state) == 11 * MIN
    assert not dark.pass_time(TERMS, state, 11 * MIN - 1).state.is_dark
    moved = dark.pass_time(TERMS, state, 25 * MIN)
    assert moved.facts[0] == Fact(11 * MIN, "dark")
    assert [(send.at_ms, send.person) for send in moved.sends] == [
        (11 * MIN, "ann"), (16 * MIN, "ben"), (21 * MIN, "ann"),
    ]  # fmt: skip


def test_a_home_that_was_never_heard_goes_dark_too():
    assert dark.pass_time(TERMS, dark.begin(TERMS, 5), 5 + 10 * MIN).state.is_dark


def test_a_beat_counts_from_the_answer_it_knows_not_from_when_it_came():
    late = dark.heard(TERMS, alive_at(MIN), beat(2, 2 * MIN), 9 * MIN).state
    assert (late.alive_ms, late.heard_ms) == (2 * MIN, 9 * MIN)
    assert dark.deadline(TERMS, late) == 12 * MIN


@pytest.mark.parametrize("again", [beat(1, 8 * MIN), beat(0, 8 * MIN), beat(99, 8 * MIN, boot=0)])
def test_what_is_not_newer_changes_nothing(again):
    state = alive_at(MIN)
    moved = dark.heard(TERMS, state, again, 9 * MIN)
    assert not moved.fresh
    assert moved.state == dark.pass_time(TERMS, state, 9 * MIN).state


def test_only_a_larger_start_may_count_from_one_again():
    moved = dark.heard(TERMS, alive_at(MIN), beat(1, MIN + 5, boot=2), 2 * MIN)
    assert moved.fresh
    assert Fact(2 * MIN, "restarted") in moved.facts
    assert moved.state.alive_ms == MIN + 5


def test_a_time_that_the_keeper_cannot_have_told_yet_proves_nothing():
    moved = dark.heard(TERMS, alive_at(MIN), beat(2, 9 * MIN), 2 * MIN)
    assert moved.fresh
    assert moved.state.alive_ms == MIN


def test_a_dark_home_that_is_heard_returns_but_somebody_must_still_answer():
    state = dark_home().state
    moved = dark.heard(TERMS, state, beat(2, 0), 12 * MIN)
    assert moved.state.is_dark  # heard, but this proves nothing yet
    moved = dark.heard(TERMS, moved.state, beat(3, 12 * MIN), 12 * MIN + 1)
    assert moved.facts == (Fact(12 * MIN + 1, "heard again"),)
    assert moved.state.alarm.life.state is State.RETURNED
    assert dark.pass_time(TERMS, moved.state, 16 * MIN).sends[0].person == "ben"


def test_an_answer_stops_the_calling_until_it_is_still_true_too_long():
    state = dark_home().state
    asked = state.alarm.life.asked_at_ms
    moved = dark.answer(TERMS, state, Acknowledged("ann", asked), 12 * MIN)
    assert moved.facts == (Fact(12 * MIN, "looking after it", "ann"),)
    assert dark.deadline(TERMS, moved.state) == 132 * MIN
    later = dark.pass_time(TERMS, moved.state, 132 * MIN)
    assert later.facts == (Fact(132 * MIN, "still dark, asked again"),)
    assert later.sends[0].person == "ann"


def test_a_late_answer_and_one_by_nobody_asked_leave_no_trace():
    state = dark_home().state
    for event in (Acknowledged("ann", 5), Cannot("ann", 5)):
        assert dark.answer(TERMS, state, event, 12 * MIN).facts == ()


def test_who_cannot_sends_it_on():
    state = dark_home().state
    moved = dark.answer(TERMS, state, Cannot("ann", state.alarm.life.asked_at_ms), 12 * MIN)
    assert [(send.at_ms, send.person) for send in moved.sends] == [(12 * MIN, "ben")]


def test_a_clock_that_jumps_is_noted_and_still_alive():
    state = dark.heard(TERMS, alive_at(MIN), beat(2, MIN + 1, at_ms=2 * MIN), 2 * MIN).state
    assert (state.ahead_ms, state.clock_jumps) == (0, 0)
    moved = dark.heard(TERMS, state, beat(3, 2 * MIN, at_ms=63 * MIN), 3 * MIN)
    assert (moved.state.ahead_ms, moved.state.clock_jumps) == (60 * MIN, 1)
    assert Fact(3 * MIN, "clock jumped") in moved.facts
    assert moved.state.alive_ms == 2 * MIN
    still = dark.heard(TERMS, moved.state, beat(4, 3 * MIN, at_ms=64 * MIN), 4 * MIN)
    assert (still.state.clock_jumps, still.facts) == (1, ())


def test_a_keeper_that_was_down_listens_for_a_moment_first():
    state = dark.pass_time(TERMS, alive_at(MIN), 2 * MIN).state
    back = dark.came_back(TERMS, state, 60 * MIN)
    assert dark.deadline(TERMS, back) == 63 * MIN
    short = dark.came_back(TERMS, dark.pass_time(TERMS, state, 10 * MIN).state, 11 * MIN)
    assert dark.deadline(TERMS, short) == 12 * MIN  # down for one minute: one minute
    assert dark.came_back(TERMS, state, 5 * MIN) == state  # nothing was missed


def test_it_listens_so_only_once_in_each_silence():
    back = dark.came_back(TERMS, dark.pass_time(TERMS, alive_at(MIN), 2 * MIN).state, 60 * MIN)
    assert dark.came_back(TERMS, back, 90 * MIN) == back
    old = dark.heard(TERMS, back, beat(2, 2 * MIN), 61 * MIN).state
    assert dark.deadline(TERMS, old) == 63 * MIN  # a proof of long ago does not end the moment
    heard = dark.heard(TERMS, old, beat(3, 61 * MIN), 62 * MIN).state
    assert (heard.spared_ms, dark.deadline(TERMS, heard)) == (None, 71 * MIN)


def test_time_never_runs_backwards():
    state = dark.pass_time(TERMS, alive_at(MIN), 5 * MIN).state
    assert dark.pass_time(TERMS, state, 4 * MIN).state == state
    assert dark.heard(TERMS, state, beat(2, 4 * MIN), 4 * MIN).state.heard_ms == 5 * MIN


def test_shortened_terms_count_from_now():
    state = dark.pass_time(TERMS, alive_at(MIN), 9 * MIN).state
    shorter = Terms("mill", MIN, MIN, TERMS.calls)
    assert dark.pass_time(shorter, state, 9 * MIN + 1).facts == (Fact(9 * MIN, "dark"),)


@pytest.mark.parametrize("damage", [{"alive_ms": "x"}, {"beat": {"home": 1}}, {"alarm": None}, {"ahead_ms": 1.5}])
def test_a_damaged_state_is_refused(damage):
    data = json.loads(json.dumps(dark.to_json(dark_home().state)))
    assert dark.from_json(data) == dark_home().state
    with pytest.raises(ValueError):
        dark.from_json({**data, **damage})
