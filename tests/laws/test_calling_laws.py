"""Laws of the calling over any call list and any sequence of events."""

import heapq
import json

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from stillwell.alarms import alarm as alarms
from stillwell.alarms import calling, telling
from stillwell.alarms.alarm import Alarm
from stillwell.alarms.call_list import CallList, Channel, Responder, Step, everyone, milliseconds
from stillwell.alarms.calling import AskAgain, Phase, Send
from stillwell.alarms.events import (
    Acknowledged,
    Cannot,
    PutBack,
    Raised,
    ReAlarmed,
    Returned,
    Shelved,
    TakenOut,
    Unshelved,
)
from stillwell.alarms.life import State

pytestmark = pytest.mark.base

NAMES = ("Ann", "Ben", "Cem")
RAISED_MS = 5_000
many = settings(max_examples=100, deadline=None)


@st.composite
def responders(draw, name):
    kinds = ["call", *draw(st.lists(st.sampled_from(["text", "mail"]), unique=True))]
    channels = tuple(Channel(kind, draw(st.integers(0, 120))) for kind in kinds)
    return Responder(name, channels, draw(st.none() | st.integers(0, 60)))


@st.composite
def call_lists(draw, least_wait_s=0):
    people = tuple(draw(responders(name)) for name in NAMES)
    channels = {person.name: {channel.kind for channel in person.channels} for person in people}
    steps = []
    count = draw(st.integers(1, 4))
    for number in range(1, count + 1):
        whom = tuple(draw(st.lists(st.sampled_from(NAMES), min_size=1, unique=True)))
        by = draw(st.sampled_from(sorted(set.intersection(*(channels[name] for name in whom)))))
        wait_s = draw(st.integers(max(least_wait_s, 1 if number == count else 0), 900))
        steps.append(Step(whom, by, wait_s, draw(st.integers(1, 3))))
    then = draw(st.sampled_from(["repeat", "everyone"]))
    return CallList("list", people, tuple(steps), then, draw(st.integers(1, 7_200)))


def timed(events, most_s=400):
    """Events with the instants at which they happen, not falling."""
    gaps = st.lists(st.tuples(st.integers(0, most_s * 1_000), events), max_size=12)

    def add_up(steps):
        now_ms, out = RAISED_MS, []
        for gap_ms, event in steps:
            now_ms += gap_ms
            out.append((now_ms, event))
        return out

    return gaps.map(add_up)


WHO = st.sampled_from(NAMES)
STALE = st.integers(0, RAISED_MS - 1)
UNANSWERED = st.one_of(
    st.just(Raised()),
    st.just(Returned()),
    st.builds(Cannot, WHO),
    st.builds(Acknowledged, WHO, STALE),
    st.builds(Cannot, WHO, STALE),
)
EVENTS = UNANSWERED | st.builds(Acknowledged, WHO)


def run(calls, history):
    """Every outcome from the raise on, the first message's included."""
    seen = [calling.begin(calls, "cold", RAISED_MS)]
    for now_ms, event in history:
        seen.append(calling.react(calls, seen[-1].state, event, now_ms))
    return seen


def messages(outcomes):
    return [one for outcome in outcomes for one in outcome.effects if isinstance(one, Send)]


def one_cycle(calls, state):
    """Let time alone run through as many stages as one passage through the list has."""
    out = []
    for _ in range(sum(step.repeat for step in calls.steps) + 1):
        outcome = calling.advance(calls, state, state.due_ms)
        state = outcome.state
        out.append(outcome)
    return out


@many
@given(call_lists(), timed(UNANSWERED))
def test_it_never_ends_without_an_answer(calls, history):
    end = run(calls, history)[-1]
    assert end.state.phase is Phase.ASKING
    assert end.deadline_ms is not None
    names = {person.name for person in everyone(calls)}
    assert {one.person for one in messages(one_cycle(calls, end.state))} == names


@many
@given(call_lists(), timed(EVENTS))
def test_it_ends_only_answered_and_no_longer_true(calls, history):
    condition = True
    for (_, event), before, after in zip(history, run(calls, history), run(calls, history)[1:], strict=False):
        condition = (condition or isinstance(event, Raised)) and not isinstance(event, Returned)
        if after.state.phase is Phase.OVER and before.state.phase is not Phase.OVER:
            assert not condition
            assert after.state.answered_by in NAMES


@many
@given(call_lists(), timed(EVENTS))
def test_answered_it_rests_until_it_asks_again_at_its_time(calls, history):
    for outcome, (now_ms, _) in zip(run(calls, history)[1:], history, strict=True):
        state = outcome.state
        if state.phase is Phase.ANSWERED:
            assert calling.advance(calls, state, state.due_ms - 1) == (state, (), state.due_ms)
            assert state.due_ms <= now_ms + milliseconds(calls.still_true_after_s)
            again = calling.advance(calls, state, state.due_ms)
            assert again.effects[0] == AskAgain(state.due_ms)
            assert again.state.phase is Phase.ASKING


@many
@given(call_lists(), timed(EVENTS))
def test_stored_and_read_back_at_every_event_it_goes_on_the_same(calls, history):
    expected = run(calls, history)
    state = expected[0].state
    for (now_ms, event), there in zip(history, expected[1:], strict=True):
        read = calling.from_json(json.loads(json.dumps(calling.to_json(state))))
        here = calling.react(calls, read, event, now_ms)
        assert here == there
        state = here.state


@many
@given(call_lists(), timed(EVENTS), st.integers(0, 10**7), st.integers(0, 10**7))
def test_one_leap_of_time_is_many_small_ones(calls, history, first_ms, second_ms):
    state = run(calls, history)[-1].state
    now_ms = history[-1][0] if history else RAISED_MS
    half = calling.advance(calls, state, now_ms + first_ms)
    rest = calling.advance(calls, half.state, now_ms + first_ms + second_ms)
    whole = calling.advance(calls, state, now_ms + first_ms + second_ms)
    assert (rest.state, half.effects + rest.effects) == (whole.state, whole.effects)


@many
@given(call_lists(), timed(EVENTS))
def test_answers_and_reports_that_come_twice_count_once(calls, history):
    for (now_ms, event), outcome in zip(history, run(calls, history)[1:], strict=True):
        if not isinstance(event, Cannot):
            twice = calling.react(calls, outcome.state, event, now_ms)
            assert twice == (outcome.state, (), outcome.deadline_ms)


@many
@given(call_lists(), timed(EVENTS), WHO)
def test_a_late_answer_to_an_earlier_asking_changes_nothing(calls, history, who):
    outcomes = run(calls, history)
    state = outcomes[-1].state
    now_ms = history[-1][0] if history else RAISED_MS
    for asked_at_ms in {outcome.state.asked_at_ms for outcome in outcomes} - {state.asked_at_ms}:
        for late in (Acknowledged(who, asked_at_ms), Cannot(who, asked_at_ms)):
            assert calling.react(calls, state, late, now_ms) == (state, (), state.due_ms)


@many
@given(call_lists(), timed(st.builds(Cannot, WHO)))
def test_cannot_makes_no_message_later_however_often_it_comes(calls, history):
    hastened = run(calls, history)
    end = hastened[-1].state
    undisturbed = calling.begin(calls, "cold", RAISED_MS)
    horizon_ms = history[-1][0] if history else RAISED_MS
    plain = (undisturbed, calling.advance(calls, undisturbed.state, horizon_ms))
    at_ms = {}
    for one in messages([*hastened, *one_cycle(calls, end)]):
        at_ms.setdefault((one.round, one.step_index, one.person, one.channel), one.at_ms)
    for one in messages(plain):
        assert at_ms[one.round, one.step_index, one.person, one.channel] <= one.at_ms


@many
@given(call_lists(), call_lists(), timed(EVENTS))
def test_no_key_is_used_twice_even_if_the_list_is_changed_meanwhile(calls, changed, history):
    outcomes = run(calls, history)
    go_on = calling.advance(changed, outcomes[-1].state, (history[-1][0] if history else 0) + 10**6)
    keys = [one.key for one in messages([*outcomes, go_on])]
    assert len(set(keys)) == len(keys)


@many
@given(call_lists(), call_lists(), timed(UNANSWERED))
def test_a_list_changed_meanwhile_still_reaches_all_it_names(calls, changed, history):
    state = run(calls, history)[-1].state
    after = messages(one_cycle(changed, state) + one_cycle(changed, one_cycle(changed, state)[-1].state))
    assert {one.person for one in after} == {person.name for person in everyone(changed)}


PERIOD_MS = 7_200_000  # a "day" of two hours keeps the machine's runs short


@st.composite
def reaches(draw, calls):
    """For each person and channel: never, or noticed in one stretch of every day."""
    hours = {}
    for person in calls.people:
        for channel in person.channels:
            start = draw(st.integers(0, PERIOD_MS - 1))
            hours[person.name, channel.kind] = draw(
                st.none() | st.just((0, PERIOD_MS)) | st.just((start, draw(st.integers(1, PERIOD_MS))))
            )

    def reachable(person, channel, t_ms):
        if hours[person, channel] is None:
            return None
        start, length = hours[person, channel]
        since = (t_ms - start) % PERIOD_MS
        return t_ms if since < length else t_ms + PERIOD_MS - since

    return reachable


def played(calls, notices, answer_ms, unreachable):
    """Run the machine while everyone who notices a message answers it `answer_ms` later.

    Returns told, acknowledged and at the door, None for never within ten passages of the list.
    """
    minutes = {person.name: person.minutes_to_door for person in calls.people}
    answers, noticed = [], []
    state, effects, due_ms = calling.begin(calls, "cold", RAISED_MS)
    while True:
        for send in effects:
            at_ms = None if send.person in unreachable else notices(send.person, send.channel, send.at_ms)
            if at_ms is not None:
                noticed.append(at_ms)
                heapq.heappush(answers, (at_ms + answer_ms, send.person))
        if answers and answers[0][0] < due_ms:
            break
        if state.round > 10 and not noticed:
            return None, None, None
        state, effects, due_ms = calling.advance(calls, state, due_ms)
    first_ms, person = answers[0]
    answered = calling.react(calls, state, Acknowledged(person, RAISED_MS), first_ms)
    assert (answered.state.phase, answered.effects) == (Phase.ANSWERED, ())
    doors = [at_ms + milliseconds(60 * minutes[name]) for at_ms, name in answers if minutes[name] is not None]
    return min(noticed), first_ms, min(doors, default=None)


@many
@given(st.data(), call_lists(least_wait_s=60), st.integers(0, 1_800), st.frozensets(WHO))
def test_the_answer_worked_out_is_what_the_machine_does(data, calls, answer_s, unreachable):
    notices = telling.noticing(calls, data.draw(reaches(calls)))
    asked = (calls, RAISED_MS, notices)
    assert played(calls, notices, milliseconds(answer_s), unreachable) == (
        telling.told_at(*asked, unreachable),
        telling.acknowledged_at(*asked, answer_s, unreachable),
        telling.at_door_at(*asked, answer_s, unreachable),
    )


ALARM_EVENTS = st.one_of(
    EVENTS,
    st.just(ReAlarmed()),
    st.builds(Shelved, WHO, st.integers(RAISED_MS, 3_000_000)),
    st.just(Unshelved()),
    st.builds(TakenOut, WHO),
    st.just(PutBack()),
)
ASKING_IN = (State.UNACKNOWLEDGED, State.RETURNED)


@many
@given(call_lists(), timed(ALARM_EVENTS))
def test_life_and_calling_keep_in_step_also_when_stored_at_every_event(calls, history):
    now = Alarm("cold")
    for now_ms, event in [(RAISED_MS, Raised()), *history]:
        read = alarms.from_json(json.loads(json.dumps(alarms.to_json(now))))
        assert read == now
        now, _, due_ms = alarms.step(calls, read, event, now_ms)
        phase = None if now.calling is None else now.calling.phase
        expected = {State.ACKNOWLEDGED: Phase.ANSWERED, **dict.fromkeys(ASKING_IN, Phase.ASKING)}
        assert phase == expected.get(now.life.state)
        if now.calling is not None:
            assert now.calling.asked_at_ms == now.life.asked_at_ms
            assert now.calling.condition == now.life.condition
        assert (due_ms is None) == (now.life.state in (State.NORMAL, State.OUT_OF_SERVICE))


@many
@given(call_lists(), timed(ALARM_EVENTS))
def test_whoever_must_be_told_is_told(calls, history):
    now = Alarm("cold")
    for now_ms, event in [(RAISED_MS, Raised()), *history]:
        now, _, _ = alarms.step(calls, now, event, now_ms)
    assume(now.life.state in ASKING_IN)
    sends, names = [], {person.name for person in everyone(calls)}
    for _ in range(sum(step.repeat for step in calls.steps) + 1):
        now, effects, _ = alarms.advance(calls, now, now.calling.due_ms)
        sends += effects
    assert {one.person for one in sends} == names
