"""How things stand, in sentences: each state of ISA-18.2 in its own words, and the one sentence that matters most."""

from zoneinfo import ZoneInfo

import pytest

from stillwell.alarms.life import State
from stillwell.wording.standing import QUIET, Stands, alarm_sentence, headline, part_sentence, pause_sentence
from stillwell.wording.standing import unread_sentence as unread

pytestmark = pytest.mark.base

ZONE = ZoneInfo("Europe/London")
NOON = 1_780_311_600_000  # Mon 1 Jun 2026 12:00 in London (British Summer Time, UTC + 1 h): date -d @1780311600
MINUTE = 60_000
DAY = 86_400_000


def stands(state, **more):
    return Stands("Water", str(state), more.pop("true_now", True), **more)


@pytest.mark.parametrize(
    ("one", "said"),
    [
        (
            stands(State.UNACKNOWLEDGED, raised_ms=NOON, asked_ms=NOON),
            '"Water" has stood since 12:00, and nobody has answered yet.',
        ),
        (
            stands(State.UNACKNOWLEDGED, raised_ms=NOON - DAY, asked_ms=NOON),
            '"Water" has stood since Sun 31 May 2026 12:00, was asked again at 12:00, and nobody has answered yet.',
        ),
        (
            stands(State.ACKNOWLEDGED, raised_ms=NOON, acknowledged_ms=NOON + MINUTE, by="Ruth"),
            '"Water" has stood since 12:00; Ruth has been looking after it since 12:01.',
        ),
        (
            stands(State.RETURNED, true_now=False, raised_ms=NOON, asked_ms=NOON),
            '"Water" stood since 12:00 and is over by itself, but nobody has answered yet.',
        ),
        (
            stands(State.SHELVED, true_now=False, until_ms=NOON + 5 * MINUTE, by="Ruth"),
            '"Water" is set aside until 12:05, by Ruth.',
        ),
        (
            stands(State.SHELVED, raised_ms=NOON, until_ms=NOON + 5 * MINUTE, by="Ruth"),
            '"Water" is set aside until 12:05, by Ruth; it is true since 12:00.',
        ),
        (
            stands(State.OUT_OF_SERVICE, true_now=False, by="Ruth"),
            '"Water" is out of service until somebody puts it back, by Ruth.',
        ),
        (
            stands(State.RETURNED, true_now=False, drill=True, raised_ms=NOON, asked_ms=NOON),
            'The drill of "Water" has rung since 12:00, and nobody has answered yet.',
        ),
    ],
)
def test_an_alarm_in_each_state(one, said):
    assert alarm_sentence(one, NOON, ZONE) == said


def test_a_part():
    assert part_sentence("hall_pir", None, None, NOON, ZONE) == "Hall pir has never been heard."
    assert part_sentence("hall_pir", NOON, None, NOON, ZONE) == "Hall pir was last heard at 12:00."
    lost = part_sentence("hall_pir", NOON - 9 * MINUTE, NOON - 4 * MINUTE, NOON, ZONE)
    assert lost == "Hall pir was last heard at 11:51 and counts as lost since 11:56."


@pytest.mark.parametrize(
    ("reason", "times", "said"),
    [
        (
            "a part that the plan does not know",
            3,
            "3 messages from a part that the plan does not know (x), last at 12:00",
        ),
        ("too long", 1, "1 message that was too long (x), last at 12:00"),
        ("too long", 2, "2 messages that were too long (x), last at 12:00"),
        ("some new reason", 1, "1 message some new reason (x), last at 12:00"),
    ],
)
def test_what_could_not_be_used(reason, times, said):
    assert unread(reason, "x", times, NOON, NOON, ZONE) == said


WAITS = stands(State.UNACKNOWLEDGED, raised_ms=NOON, asked_ms=NOON)
LOOKED_AFTER = stands(State.ACKNOWLEDGED, raised_ms=NOON, by="Ruth")
DRILL = stands(State.RETURNED, true_now=False, drill=True)
ASIDE = stands(State.SHELVED, by="Ruth")
PAUSED = pause_sentence(NOON, "Ruth", "visitors", NOON, ZONE)


@pytest.mark.parametrize(
    ("alarms", "pause", "trouble", "said"),
    [
        ([], "", [], QUIET),
        ([DRILL, ASIDE], "", [], QUIET),
        ([LOOKED_AFTER, WAITS], PAUSED, ["it"], '1 alarm waits for an answer: "Water".'),
        ([WAITS, WAITS], "", [], '2 alarms wait for an answer: "Water" and "Water".'),
        ([WAITS] * 9, "", [], '9 alarms wait for an answer: "Water", "Water", "Water" and 6 more.'),
        ([LOOKED_AFTER], PAUSED, ["it"], 'Ruth is looking after "Water".'),
        ([], PAUSED, ["it"], "Paused until 12:00 by Ruth: visitors."),
        ([], "", ["one", "two"], "No alarm waits, but the watch is not well: one and two."),
    ],
)
def test_the_one_sentence(alarms, pause, trouble, said):
    assert headline(alarms, pause, trouble) == said
