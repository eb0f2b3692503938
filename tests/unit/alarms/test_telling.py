"""Who is told when, worked out by hand; common practice, no source."""

import pytest

from stillwell.alarms import telling
from stillwell.alarms.call_list import CallList, Channel, Responder, Step

pytestmark = pytest.mark.base

HOUR_MS = 3_600_000
MINUTE_MS = 60_000

# Ann is called first but her phone is quiet from 22:00 to 07:00; Ben, five minutes away, is sent a
# text after ten minutes, which takes half a minute; the care line never comes to the door.
PEOPLE = (
    Responder("Ann", (Channel("call"),), minutes_to_door=20),
    Responder("Ben", (Channel("text", delay_s=30),), minutes_to_door=5),
    Responder("Care line", (Channel("call"),)),
)
FAMILY = CallList(
    "family",
    PEOPLE,
    (
        Step(("Ann",), "call", 10 * 60),
        Step(("Ben",), "text", 10 * 60),
        Step(("Care line",), "call", 10 * 60),
    ),
    "repeat",
    still_true_after_s=3600,
)


def awake(person, channel, t_ms):
    """One day from midnight, 0 ms, to the next evening."""
    quiet = person == "Ann" and not 7 * HOUR_MS <= t_ms < 22 * HOUR_MS
    return 7 * HOUR_MS if quiet and t_ms < 7 * HOUR_MS else t_ms


NOTICES = telling.noticing(FAMILY, awake)
NOON = 12 * HOUR_MS
ONE_AT_NIGHT = HOUR_MS


def test_when_each_is_first_sent_a_message():
    assert telling.first_messages(FAMILY) == (
        ("Ann", "call", 0),
        ("Ben", "text", 10 * MINUTE_MS),
        ("Care line", "call", 20 * MINUTE_MS),
    )


def test_repeats_of_a_step_come_before_the_next_one():
    calls = CallList(
        "slow",
        PEOPLE,
        (Step(("Ann",), "call", 60, repeat=3), Step(("Ben",), "text", 60)),
        "everyone",
        still_true_after_s=3600,
    )
    assert telling.first_messages(calls) == (("Ann", "call", 0), ("Ben", "text", 3 * MINUTE_MS))


def test_channels_used_only_once_everyone_is_told_are_counted():
    two_ways = Responder("Ann", (Channel("call"), Channel("text")))
    calls = CallList("one", (two_ways,), (Step(("Ann",), "call", 60),), "everyone", 3600)
    assert telling.first_messages(calls) == (("Ann", "call", 0), ("Ann", "text", MINUTE_MS))


def test_by_day_the_first_call_tells():
    assert telling.told_at(FAMILY, NOON, NOTICES) == NOON
    assert telling.acknowledged_at(FAMILY, NOON, NOTICES, answer_s=60) == NOON + MINUTE_MS
    assert telling.at_door_at(FAMILY, NOON, NOTICES, answer_s=60) == NOON + 21 * MINUTE_MS


def test_at_night_the_text_tells_while_the_first_phone_is_quiet():
    told_ms = ONE_AT_NIGHT + 10 * MINUTE_MS + 30_000
    assert telling.told_at(FAMILY, ONE_AT_NIGHT, NOTICES) == told_ms
    assert telling.at_door_at(FAMILY, ONE_AT_NIGHT, NOTICES, answer_s=0) == told_ms + 5 * MINUTE_MS
    assert [one.person for one in telling.told(FAMILY, ONE_AT_NIGHT, NOTICES)] == ["Ben", "Care line", "Ann"]


def test_the_care_line_answers_and_so_nobody_but_the_early_ones_come():
    no_ben = frozenset({"Ben"})
    assert telling.told_at(FAMILY, ONE_AT_NIGHT, NOTICES, no_ben) == ONE_AT_NIGHT + 20 * MINUTE_MS
    # Ann was called before the care line answered: she sees it at seven and is there at 07:20.
    at_door_ms = telling.at_door_at(FAMILY, ONE_AT_NIGHT, NOTICES, 0, no_ben)
    assert at_door_ms == 7 * HOUR_MS + 20 * MINUTE_MS
    alone = frozenset({"Ann", "Ben"})
    assert telling.told_at(FAMILY, ONE_AT_NIGHT, NOTICES, alone) == ONE_AT_NIGHT + 20 * MINUTE_MS
    assert telling.at_door_at(FAMILY, ONE_AT_NIGHT, NOTICES, 0, alone) is None


def test_a_slower_neighbour_further_down_may_still_be_first_at_the_door():
    people = (
        Responder("Far", (Channel("call"),), minutes_to_door=60),
        Responder("Near", (Channel("call"),), minutes_to_door=2),
    )
    steps = (Step(("Far",), "call", 60), Step(("Near",), "call", 60))
    calls = CallList("street", people, steps, "repeat", 3600)

    def at_once(person, channel, sent_at_ms):
        return sent_at_ms

    # Far answers after 30 s, before Near is called: Near never hears of it.
    assert telling.at_door_at(calls, 0, at_once, answer_s=30) == 30_000 + 60 * MINUTE_MS
    # Far answers after 60 s, as Near is called: what is due on the same millisecond goes out.
    assert telling.at_door_at(calls, 0, at_once, answer_s=60) == 120_000 + 2 * MINUTE_MS
    # Far answers after 90 s: Near was called at 60 s, answers at 150 s and arrives first.
    assert telling.at_door_at(calls, 0, at_once, answer_s=90) == 150_000 + 2 * MINUTE_MS


def test_nobody_reachable_is_never():
    everybody = frozenset({"Ann", "Ben", "Care line"})
    assert telling.told_at(FAMILY, NOON, NOTICES, everybody) is None
    assert telling.acknowledged_at(FAMILY, NOON, NOTICES, 60, everybody) is None
    assert telling.at_door_at(FAMILY, NOON, NOTICES, 60, everybody) is None
