import pytest

from stillwell.alarms import alarm as alarms
from stillwell.alarms.alarm import Alarm
from stillwell.alarms.call_list import CallList, Channel, Responder, Step
from stillwell.alarms.calling import AskAgain, Phase, Send
from stillwell.alarms.events import Acknowledged, Cannot, Raised, ReAlarmed, Returned, Shelved, Unshelved
from stillwell.alarms.life import NORMAL, State

pytestmark = pytest.mark.base

CALLS = CallList(
    "family",
    (Responder("Ann", (Channel("call"),)), Responder("Ben", (Channel("call"),))),
    (Step(("Ann",), "call", 60), Step(("Ben",), "call", 60)),
    "repeat",
    still_true_after_s=600,
)


def lived(*timed):
    now, effects = Alarm("cold"), ()
    for now_ms, event in timed:
        now, more, _ = alarms.step(CALLS, now, event, now_ms)
        effects += more
    return now, effects


def sent(effects):
    return [(one.at_ms, one.person) for one in effects if isinstance(one, Send)]


def test_a_raise_begins_the_calling_and_an_answer_stops_it():
    now, effects = lived((1_000, Raised()), (90_000, Acknowledged("Ben", asked_at_ms=1_000)))
    assert sent(effects) == [(1_000, "Ann"), (61_000, "Ben")]
    assert (now.life.state, now.calling.phase) == (State.ACKNOWLEDGED, Phase.ANSWERED)


def test_still_true_makes_it_unacknowledged_and_calls_anew():
    answered, _ = lived((1_000, Raised()), (2_000, Acknowledged("Ann")))
    again, effects, deadline_ms = alarms.advance(CALLS, answered, 602_000)
    assert (again.life.state, again.life.asked_at_ms) == (State.UNACKNOWLEDGED, 602_000)
    assert effects[0] == AskAgain(602_000)
    assert (sent(effects), deadline_ms) == ([(602_000, "Ann")], 662_000)


def test_who_answered_and_then_cannot_makes_it_unacknowledged():
    now, effects = lived((1_000, Raised()), (2_000, Acknowledged("Ann")), (3_000, Cannot("Ann")))
    assert (now.life.state, now.life.asked_at_ms) == (State.UNACKNOWLEDGED, 3_000)
    assert sent(effects) == [(1_000, "Ann"), (3_000, "Ben")]


def test_asked_again_by_hand_starts_the_list_over():
    now, effects = lived((1_000, Raised()), (2_000, Acknowledged("Ann")), (9_000, ReAlarmed()))
    assert sent(effects) == [(1_000, "Ann"), (9_000, "Ann")]
    assert len({one.key for one in effects}) == 2
    assert now.life.asked_at_ms == now.calling.asked_at_ms == 9_000


def test_the_end_of_a_shelf_calls_from_that_end_on():
    shelved, effects = lived((1_000, Raised()), (2_000, Shelved("Ann", until_ms=50_000)))
    assert (shelved.calling, sent(effects)) == (None, [(1_000, "Ann")])
    back, effects, deadline_ms = alarms.advance(CALLS, shelved, 120_000)
    assert sent(effects) == [(50_000, "Ann"), (110_000, "Ben")]
    assert (back.life.asked_at_ms, deadline_ms) == (50_000, 170_000)


def test_unshelving_by_hand_calls_with_new_keys():
    _, effects = lived((1_000, Raised()), (2_000, Shelved("Ann", 50_000)), (3_000, Unshelved()))
    assert sent(effects) == [(1_000, "Ann"), (3_000, "Ann")]
    assert len({one.key for one in effects}) == 2


def test_a_flickering_condition_does_not_hold_the_list_at_its_first_step():
    flicker = [(1_000 + 5_000 * i, event) for i, event in enumerate([Raised(), Returned()] * 15)]
    _, effects = lived(*flicker)
    assert sent(effects) == [(1_000, "Ann"), (61_000, "Ben"), (121_000, "Ann")]


def test_over_and_answered_is_normal_without_a_calling():
    now, _ = lived((1_000, Raised()), (2_000, Returned()), (3_000, Acknowledged("Ann")))
    assert now == Alarm("cold", NORMAL, None)
    assert alarms.advance(CALLS, now, 10**9) == (now, (), None)


@pytest.mark.parametrize("change", [{"life": None}, {"calling": "Ann"}, {"name": 3}])
def test_what_no_alarm_wrote_is_not_read_as_one(change):
    stored = alarms.to_json(lived((1_000, Raised()))[0])
    with pytest.raises(ValueError, match=r"belongs here"):
        alarms.from_json(stored | change)
