"""Timelines worked out by hand from the meaning of a call list; common practice, no source."""

import pytest

from stillwell.alarms import calling
from stillwell.alarms.call_list import CallList, Channel, Responder, Step
from stillwell.alarms.calling import AskAgain, Phase, Send
from stillwell.alarms.events import Acknowledged, Cannot, Raised, Returned

pytestmark = pytest.mark.base

MINUTE_MS = 60_000
RAISED_MS = 1_000_000

PEOPLE = (
    Responder("Ann", (Channel("call"), Channel("text")), minutes_to_door=20),
    Responder("Ben", (Channel("call"), Channel("text")), minutes_to_door=5),
    Responder("Cem", (Channel("mail"),)),
)
STEPS = (
    Step(("Ann",), "call", 5 * 60),
    Step(("Ann", "Ben"), "text", 10 * 60, repeat=2),
    Step(("Cem",), "mail", 15 * 60),
)
TO_EVERYONE = CallList("family", PEOPLE, STEPS, "everyone", still_true_after_s=3600)
OVER_AND_OVER = CallList("family", PEOPLE, STEPS, "repeat", still_true_after_s=3600)


def at(minute):
    return RAISED_MS + minute * MINUTE_MS


def sent(effects):
    """Minute after the raise, person, channel of each message."""
    return [((one.at_ms - RAISED_MS) // MINUTE_MS, one.person, one.channel) for one in effects if isinstance(one, Send)]


def asking(calls=TO_EVERYONE, minute=0):
    return calling.advance(calls, calling.begin(calls, "cold", RAISED_MS).state, at(minute)).state


ONE_CYCLE = [
    (0, "Ann", "call"),
    (5, "Ann", "text"),
    (5, "Ben", "text"),
    (15, "Ann", "text"),
    (15, "Ben", "text"),
    (25, "Cem", "mail"),
]
EVERY_WAY = [("Ann", "call"), ("Ann", "text"), ("Ben", "call"), ("Ben", "text"), ("Cem", "mail")]


def test_the_first_messages_go_out_at_once():
    state, effects, deadline_ms = calling.begin(TO_EVERYONE, "cold", RAISED_MS)
    assert sent(effects) == ONE_CYCLE[:1]
    assert deadline_ms == state.due_ms == at(5)


def test_unanswered_it_ends_with_everyone_by_every_channel_every_last_wait():
    first = calling.begin(TO_EVERYONE, "cold", RAISED_MS)
    later = calling.advance(TO_EVERYONE, first.state, at(70))
    everyone = [(minute, *way) for minute in (40, 55, 70) for way in EVERY_WAY]
    assert sent(first.effects + later.effects) == ONE_CYCLE + everyone


def test_unanswered_it_starts_over():
    first = calling.begin(OVER_AND_OVER, "cold", RAISED_MS)
    later = calling.advance(OVER_AND_OVER, first.state, at(45))
    again = [(40, "Ann", "call"), (45, "Ann", "text"), (45, "Ben", "text")]
    assert sent(first.effects + later.effects) == ONE_CYCLE + again


def test_a_wait_of_nothing_is_two_channels_at_once():
    both = (Step(("Ann",), "call", 0), Step(("Ann",), "text", 60))
    calls = CallList("both", PEOPLE, both, "repeat", still_true_after_s=3600)
    begun = calling.begin(calls, "cold", RAISED_MS)
    assert begun.deadline_ms == RAISED_MS
    moved = calling.advance(calls, begun.state, RAISED_MS)
    assert sent(begun.effects + moved.effects) == [(0, "Ann", "call"), (0, "Ann", "text")]


def test_an_answer_stops_it_and_it_asks_again_while_the_condition_holds():
    answered = calling.react(TO_EVERYONE, asking(), Acknowledged("Ann", RAISED_MS), at(3))
    assert (answered.state.phase, answered.state.answered_by) == (Phase.ANSWERED, "Ann")
    assert (answered.effects, answered.deadline_ms) == ((), at(63))
    assert calling.advance(TO_EVERYONE, answered.state, at(63) - 1).effects == ()
    again = calling.advance(TO_EVERYONE, answered.state, at(63))
    assert again.effects[0] == AskAgain(at(63))
    assert sent(again.effects) == [(63, "Ann", "call")]
    assert (again.state.phase, again.state.asked_at_ms) == (Phase.ASKING, at(63))
    # A new round, so that no key comes twice even if the clock was set back in between.
    assert again.effects[1].round == 1
    # Ann's answer, delivered a second time, is to the asking before.
    late = calling.react(TO_EVERYONE, again.state, Acknowledged("Ann", RAISED_MS), at(64))
    assert late == (again.state, (), at(68))


def test_it_is_over_when_answered_and_no_longer_true():
    for first, second in [(Acknowledged("Ann"), Returned()), (Returned(), Acknowledged("Ann"))]:
        half = calling.react(TO_EVERYONE, asking(), first, at(1)).state
        over = calling.react(TO_EVERYONE, half, second, at(2))
        assert (over.state.phase, over.deadline_ms) == (Phase.OVER, None)
        assert calling.advance(TO_EVERYONE, over.state, at(10_000)) == (over.state, (), None)


def test_no_longer_true_is_no_answer():
    over = calling.react(TO_EVERYONE, asking(), Returned(), at(1))
    assert (over.state.phase, over.deadline_ms) == (Phase.ASKING, at(5))
    true_again = calling.react(TO_EVERYONE, over.state, Raised(), at(2))
    assert (true_again.effects, true_again.state) == ((), asking())


def test_what_is_due_on_the_same_millisecond_as_an_answer_goes_out_first():
    answered = calling.react(TO_EVERYONE, asking(), Acknowledged("Ann"), at(5))
    assert sent(answered.effects) == [(5, "Ann", "text"), (5, "Ben", "text")]
    assert answered.state.phase is Phase.ANSWERED


def test_if_all_who_were_asked_cannot_the_next_step_comes_at_once():
    onward = calling.react(TO_EVERYONE, asking(), Cannot("Ann"), at(2))
    assert sent(onward.effects) == [(2, "Ann", "text"), (2, "Ben", "text")]
    assert onward.deadline_ms == at(12)
    one_of_two = calling.react(TO_EVERYONE, onward.state, Cannot("Ben"), at(3))
    assert (one_of_two.effects, one_of_two.deadline_ms) == ((), at(12))
    # The second try of the same two is left out as well: both have said that they cannot.
    both = calling.react(TO_EVERYONE, one_of_two.state, Cannot("Ann"), at(4))
    assert sent(both.effects) == [(4, "Cem", "mail")]


def test_somebody_who_was_not_asked_hastens_nothing():
    assert calling.react(TO_EVERYONE, asking(), Cannot("Ben"), at(2)).effects == ()


def test_in_the_last_stage_the_wait_stands():
    alone = asking(OVER_AND_OVER, minute=25)
    assert calling.react(OVER_AND_OVER, alone, Cannot("Cem"), at(26)).deadline_ms == at(40)
    state = asking(TO_EVERYONE, minute=40)
    for name in ("Ann", "Ben", "Cem"):
        state, effects, deadline_ms = calling.react(TO_EVERYONE, state, Cannot(name), at(41))
        assert (effects, deadline_ms) == ((), at(55))


def test_from_the_last_step_it_goes_to_everyone_at_once():
    cannot = calling.react(TO_EVERYONE, asking(minute=25), Cannot("Cem"), at(26))
    assert sent(cannot.effects) == [(26, *way) for way in EVERY_WAY]


def test_who_answered_and_then_cannot_sets_it_going_again():
    answered = calling.react(TO_EVERYONE, asking(), Acknowledged("Ann"), at(3)).state
    by_another = calling.react(TO_EVERYONE, answered, Cannot("Ben"), at(4))
    assert (by_another.state, by_another.effects) == (answered, ())
    again = calling.react(TO_EVERYONE, answered, Cannot("Ann", RAISED_MS), at(4))
    assert again.effects[0] == AskAgain(at(4))
    assert sent(again.effects) == [(4, "Ann", "text"), (4, "Ben", "text")]


def test_a_message_has_the_same_key_whenever_it_is_worked_out():
    first, again = (calling.begin(TO_EVERYONE, "cold", RAISED_MS).effects for _ in range(2))
    assert first == again
    other_alarm = calling.begin(TO_EVERYONE, "water", RAISED_MS).effects
    other_raise = calling.begin(TO_EVERYONE, "cold", RAISED_MS + 1).effects
    assert len({first[0].key, other_alarm[0].key, other_raise[0].key}) == 3


def test_after_a_standstill_only_the_newest_of_each_kind_is_worth_sending():
    begun = calling.begin(TO_EVERYONE, "cold", RAISED_MS)
    missed = begun.effects + calling.advance(TO_EVERYONE, begun.state, at(26)).effects
    assert sent(calling.newest(missed)) == [
        (0, "Ann", "call"),
        (15, "Ann", "text"),
        (15, "Ben", "text"),
        (25, "Cem", "mail"),
    ]


def test_a_list_that_became_shorter_meanwhile_still_calls():
    shorter = CallList("family", PEOPLE, STEPS[:1], "repeat", still_true_after_s=3600)
    onward = calling.advance(shorter, asking(minute=40), at(55))
    assert sent(onward.effects) == [(55, "Ann", "call")]


@pytest.mark.parametrize(
    ("change", "met"),
    [
        ({"due_ms": None}, "has a deadline until it is over"),
        ({"phase": "answered"}, "somebody who answered"),
        ({"phase": "lost"}, "lost"),
        ({"cannot": "Ann"}, "cannot is 'Ann': a list of texts"),
        ({"round": "1"}, "round is '1': a whole number"),
        ({"condition": None}, "condition is None: true or false"),
    ],
)
def test_what_no_calling_wrote_is_not_read_as_one(change, met):
    with pytest.raises(ValueError, match=met):
        calling.from_json(calling.to_json(asking()) | change)
