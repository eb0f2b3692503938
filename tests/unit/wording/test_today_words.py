"""The first sentence: one for each way a home can stand, and what goes before what.

The wording is ours; the order (who waits for an answer before what is not seen, before what is looked after) is that
of docs/look.md.
"""

from zoneinfo import ZoneInfo

import pytest

from stillwell.plan.model import Part
from stillwell.wording.today import (
    EMERGENCY_FIRST,
    WORDS,
    Glance,
    Rings,
    Sign,
    Unseen,
    headline,
    next_sentence,
    part_name,
    unseen_sentence,
)

pytestmark = pytest.mark.base

ZONE = ZoneInfo("Europe/London")
NOW_MS = 1_773_152_400_000
"""Tue 10 Mar 2026 14:20 UTC, GMT in London: python-dateutil and `date -u -d @1773152400` agree."""
MINUTE_MS = 60_000
HOUR_MS = 60 * MINUTE_MS

FALL = Rings("No sign of life", "collapse", "unacknowledged", NOW_MS - 15 * MINUTE_MS)
WATER = Rings("Water", "water", "unacknowledged", NOW_MS - 5 * MINUTE_MS)
PIR = Unseen("the movement detector in the hall", NOW_MS - 5 * HOUR_MS)
NOTHING = Unseen("nothing is heard from any part that shows signs of life", NOW_MS - HOUR_MS)


def glance(**more):
    return Glance("Edda", NOW_MS, ZONE, **{"sign": Sign(NOW_MS - 6 * MINUTE_MS, "kitchen"), **more})


def answered(by="Lene Rowan"):
    return Rings("No sign of life", "collapse", "acknowledged", NOW_MS - 15 * MINUTE_MS, by)


def test_all_is_well():
    """The sentence that the task itself gives."""
    found = headline(glance())
    assert found.state == "well"
    assert " ".join([found.sentence, *found.more]) == (
        "Nothing to worry about. Last sign of life 14:14, kitchen. Everything that should report has reported."
    )


@pytest.mark.parametrize(
    ("more", "state", "sentence"),
    [
        ({"rings": [FALL]}, "unanswered", "“No sign of life” since 14:05, and nobody has answered yet."),
        (
            {"rings": [WATER, FALL]},
            "unanswered",
            "2 alarms, the oldest since 14:05, and nobody has answered yet: “No sign of life” and “Water”.",
        ),
        (
            {"rings": [Rings("Water", "water", "returned to normal unacknowledged", NOW_MS - HOUR_MS)]},
            "unanswered",
            "“Water” stood since 13:20 and is over by itself, but nobody has answered yet.",
        ),
        ({"rings": [answered()]}, "answered", "Lene Rowan is looking after “No sign of life”, since 14:05."),
        ({"unseen": [PIR]}, "less", "No alarm, but the watch sees less than it should."),
        ({"blind": NOTHING}, "blind", "The watch has been blind since 13:20."),
        ({"paused_until_ms": NOW_MS + HOUR_MS, "paused_by": "Ruth"}, "paused", "The watch is paused until 15:20."),
        ({"watched": False, "until_ms": NOW_MS - HOUR_MS}, "unwatched", "No watch answers here."),
        ({"watched": False}, "unwatched", "There is a plan of this home, but no watch."),
    ],
)
def test_each_state_has_its_sentence(more, state, sentence):
    found = headline(glance(**more))
    assert (found.state, found.word, found.sentence) == (state, WORDS[state], sentence)


def test_what_waits_for_an_answer_goes_before_everything_else():
    everything = {"rings": [answered(), WATER], "unseen": [PIR], "blind": NOTHING, "paused_until_ms": NOW_MS + HOUR_MS}
    assert headline(glance(**everything)).state == "unanswered"
    assert headline(glance(**everything | {"rings": [answered()]})).state == "blind"
    assert headline(glance(**everything | {"rings": [answered()], "blind": None})).state == "answered"
    assert headline(glance(**everything | {"rings": [], "blind": None})).state == "paused"
    assert headline(glance(unseen=[PIR])).state == "less"
    assert headline(glance(**everything | {"watched": False})).state == "unwatched"


def test_a_lost_part_that_rings_for_its_keeper_is_no_alarm_about_the_resident():
    found = headline(glance(rings=[Rings("hall pir", "blind", "unacknowledged", NOW_MS)], unseen=[PIR]))
    assert found.state == "less"


def test_the_emergency_number_comes_first_where_somebody_may_be_in_danger():
    assert EMERGENCY_FIRST in headline(glance(rings=[FALL])).more
    assert EMERGENCY_FIRST not in headline(glance(rings=[WATER])).more


@pytest.mark.parametrize("more", [{"rings": [FALL]}, {"rings": [answered()]}, {"paused_until_ms": NOW_MS + 1}])
def test_whatever_else_there_is_a_blind_watch_is_told(more):
    found = headline(glance(**more, blind=NOTHING))
    assert any("blind since 13:20" in line for line in (found.sentence, *found.more))


def test_nothing_is_called_well_that_is_not():
    assert "Nothing to worry about." not in [
        headline(glance(**more)).sentence
        for more in (
            {"rings": [FALL]},
            {"rings": [answered()]},
            {"unseen": [PIR]},
            {"blind": NOTHING},
            {"watched": False},
        )
    ]


def test_what_was_set_aside_by_hand_is_not_forgotten():
    found = headline(glance(rings=[Rings("Water", "water", "shelved", NOW_MS, "Tom")]))
    assert found.state == "well"
    assert "Set aside by hand: “Water”." in found.more


def test_what_ails_the_watch_itself_is_not_called_well():
    found = headline(glance(trouble=[Unseen("the disk is nearly full", NOW_MS - HOUR_MS)]))
    assert (found.state, found.sentence) == ("less", "No alarm, but the watch itself is not well.")
    assert "The disk is nearly full, since 13:20." in found.more


def test_a_state_that_is_not_as_usual_is_told():
    """While holiday is on, the demo home raises no alarm about silence: who reads that all is well must know."""
    assert "Holiday is on." in headline(glance(states=[("holiday", "on")])).more


def test_yesterday_is_said():
    assert (
        "Last sign of life yesterday 22:41, bedroom."
        in headline(glance(sign=Sign(NOW_MS - 15 * HOUR_MS - 39 * MINUTE_MS, "bedroom"))).more
    )
    assert "No sign of life has been seen yet." in headline(glance(sign=None)).more
    assert "Last sign of life Sun 8 Mar 2026 14:20." in headline(glance(sign=Sign(NOW_MS - 48 * HOUR_MS, ""))).more


def test_how_long_a_part_has_been_silent():
    assert unseen_sentence(PIR, NOW_MS, ZONE) == (
        "The movement detector in the hall has been out of touch since 09:20, for 5 h."
    )


def test_whom_the_list_turns_to_next():
    assert next_sentence(["Ben", "Eve"], "call", NOW_MS + 3 * MINUTE_MS, NOW_MS, ZONE) == (
        "If nobody answers by 14:23, Ben and Eve will be told by call."
    )
    assert next_sentence([], "call", NOW_MS, NOW_MS, ZONE) == ""


@pytest.mark.parametrize(
    ("part", "said"),
    [
        (Part(kind="movement", room="hall"), "the movement detector in the hall"),
        (Part(kind="contact", opening="back_door"), "the contact at the back door"),
        (Part(kind="radio hub", room="hall"), "the radio hub"),
        (Part(kind="outlet"), "the kettle plug"),
        (Part(kind="wearable call button"), "the kettle plug"),
    ],
)
def test_parts_are_called_what_people_can_find(part, said):
    assert part_name("kettle_plug", part) == said
