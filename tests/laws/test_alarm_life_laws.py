"""Laws of the alarm life over any sequence of events."""

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

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
from stillwell.alarms.life import NORMAL, State

pytestmark = pytest.mark.base

INSTANTS = st.integers(0, 300)
NAMES = st.sampled_from(["Ann", "Ben"])
EVENTS = st.one_of(
    st.just(Raised()),
    st.just(Returned()),
    st.builds(Acknowledged, NAMES, st.none() | INSTANTS),
    st.just(ReAlarmed()),
    st.builds(Shelved, NAMES, INSTANTS),
    st.just(Unshelved()),
    st.builds(TakenOut, NAMES),
    st.just(PutBack()),
)
HISTORIES = st.lists(st.tuples(st.integers(0, 30), EVENTS), max_size=25).map(
    lambda steps: [(sum(gap for gap, _ in steps[: i + 1]), event) for i, (_, event) in enumerate(steps)]
)
many = settings(max_examples=300, deadline=None)


def lives(history):
    now, seen = NORMAL, [NORMAL]
    for now_ms, event in history:
        now = life.step(now, event, now_ms)
        seen.append(now)
    return seen


class Flags:
    """The same life kept as four independent facts, the way OPC 10000-9 (IEC 62541-9) keeps it:
    active, acknowledged, shelved until, out of service."""

    def __init__(self):
        self.active, self.acked, self.shelf, self.out = False, True, None, False
        self.asked_at = None

    def show(self, now_ms):
        self.acked = not self.active
        self.asked_at = now_ms

    def step(self, now_ms, event):
        if self.shelf is not None and now_ms >= self.shelf:
            end, self.shelf = self.shelf, None
            self.show(end)
        hidden = self.out or self.shelf is not None
        match event:
            case Raised():
                if not self.active and self.acked and not hidden:
                    self.acked, self.asked_at = False, now_ms
                self.active = True
            case Returned():
                self.active = False
            case Acknowledged(asked_at_ms=asked) if not hidden and asked in (None, self.asked_at):
                self.acked = True
            case ReAlarmed() if not hidden and self.active and self.acked:
                self.acked, self.asked_at = False, now_ms
            case Shelved(until_ms=until) if not self.out and until > now_ms:
                self.shelf = until
            case Unshelved() if self.shelf is not None:
                self.shelf = None
                self.show(now_ms)
            case TakenOut():
                self.out, self.shelf = True, None
            case PutBack() if self.out:
                self.out = False
                self.show(now_ms)

    def state(self):
        if self.out:
            return State.OUT_OF_SERVICE
        if self.shelf is not None:
            return State.SHELVED
        return {
            (False, True): State.NORMAL,
            (True, False): State.UNACKNOWLEDGED,
            (True, True): State.ACKNOWLEDGED,
            (False, False): State.RETURNED,
        }[self.active, self.acked]


@many
@given(HISTORIES)
def test_the_table_is_the_same_life_as_four_independent_facts(history):
    flags, now = Flags(), NORMAL
    for now_ms, event in history:
        flags.step(now_ms, event)
        now = life.step(now, event, now_ms)
        assert (now.state, now.condition) == (flags.state(), flags.active)


@many
@given(HISTORIES)
def test_no_alarm_is_lost(history):
    condition = False
    for (_, event), now in zip(history, lives(history)[1:], strict=True):
        condition = (condition or isinstance(event, Raised)) and not isinstance(event, Returned)
        if condition and now.state not in (State.SHELVED, State.OUT_OF_SERVICE):
            assert now.state in (State.UNACKNOWLEDGED, State.ACKNOWLEDGED)


@many
@given(HISTORIES)
def test_only_a_person_ends_the_waiting_for_an_answer(history):
    waiting = (State.UNACKNOWLEDGED, State.RETURNED)
    seen = lives(history)
    for (now_ms, event), before, after in zip(history, seen, seen[1:], strict=False):
        before = life.advance(before, now_ms)  # noqa: PLW2901
        if before.state in waiting and after.state not in waiting:
            assert isinstance(event, Acknowledged | Shelved | TakenOut)


@many
@given(HISTORIES)
def test_an_event_that_comes_twice_counts_once(history):
    seen = lives(history)
    for (now_ms, event), after in zip(history, seen[1:], strict=True):
        assert life.step(after, event, now_ms) == after


@many
@given(HISTORIES, st.integers(1, 400))
def test_a_late_answer_to_an_earlier_asking_changes_nothing(history, later_ms):
    seen = lives(history)
    end_ms = history[-1][0] + later_ms if history else later_ms
    now = life.advance(seen[-1], end_ms)
    for asked_at_ms in {one.asked_at_ms for one in seen} - {now.asked_at_ms, None}:
        assert life.step(now, Acknowledged("Ben", asked_at_ms), end_ms) == now


@many
@given(HISTORIES)
def test_stored_and_read_back_at_every_event_it_lives_on_the_same(history):
    now = NORMAL
    for (now_ms, event), expected in zip(history, lives(history)[1:], strict=True):
        read = life.from_json(json.loads(json.dumps(life.to_json(now))))
        now = life.step(read, event, now_ms)
        assert now == expected


@many
@given(HISTORIES, INSTANTS, INSTANTS)
def test_one_leap_of_time_is_many_small_ones(history, first_ms, second_ms):
    start_ms = history[-1][0] if history else 0
    for now in lives(history):
        half = life.advance(now, start_ms + first_ms)
        whole = life.advance(now, start_ms + first_ms + second_ms)
        assert life.advance(half, start_ms + first_ms + second_ms) == whole


@many
@given(HISTORIES)
def test_every_shelf_ends(history):
    for now in lives(history):
        end_ms = life.deadline(now)
        assert (end_ms is not None) == (now.state is State.SHELVED)
        if end_ms is not None:
            assert life.advance(now, end_ms).state in (State.NORMAL, State.UNACKNOWLEDGED)
