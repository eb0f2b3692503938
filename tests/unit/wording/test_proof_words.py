"""A proof in words, for homes that are worked out by hand."""

import pytest
from tests.smallest import alarm, plan_of

from stillwell.civiltime import find_zone
from stillwell.proof.faults import Fault
from stillwell.proof.prove import prove
from stillwell.proof.proved import Shown
from stillwell.wording import proof as words
from stillwell.wording.story import story_sentences

ZONE = find_zone("Europe/London")
H = 3_600_000
MONDAY = 1767571200000  # 2026-01-05 00:00 in London
LIFE = {"parts": {"hall": {"kind": "movement"}}, "signals": {"sign_of_life": "hall.movement"}}
DAYLIGHT = {"while": "between 07:00 and 22:00"}


def shown(*alarms, day="4h", night="9h", **tables):
    hazard = {"name": "collapse", "kind": "collapse", "deadline": {"day": day, "night": night}}
    plan = plan_of(**(LIFE | {"hazard": [hazard], "alarm": list(alarms)} | tables))
    proof = prove(plan, 2026)
    return Shown(plan, proof, proof.hazards[0])


def story(case):
    assert case.story is not None
    return list(story_sentences(case.plan, case.result.hazard, case.story, case.deadline_ms, ZONE))


def test_the_cells_of_the_table():
    case = shown(alarm("no sign_of_life for 3h", **DAYLIGHT))
    assert words.deadline_cell(case.result.hazard) == "4 h, 9 h"
    assert words.notice_cell(case.result.normal.worst_s) == "12 h 1 min"  # never less than it is
    assert words.notice_cell(None) == "never"
    assert words.onset_cell(case.result, case.worst, ZONE) == "daily 19:00"


@pytest.mark.parametrize(
    ("when", "said"),
    [
        ("no sign_of_life for 3h", "any time"),
        ("at 08:00 and no sign_of_life for 12h", "daily just after 20:00"),
        ("no sign_of_life for 3h and on tue", "Tue 21:00"),  # three hours later it is Wednesday
    ],
)
def test_when_it_is_worst(when, said):
    case = shown(alarm(when))
    assert words.onset_cell(case.result, case.worst, ZONE) == said


def test_where_the_sun_decides_the_worst_has_a_date():
    case = shown(
        alarm("no sign_of_life for 3h and from sunrise to sunset"),
        home={"name": "x", "timezone": "Europe/London", "position": [52.0, 0.0]},
    )
    assert " Dec " in words.onset_cell(case.result, case.worst, ZONE)


def test_stretches_of_the_week():
    spans = [(MONDAY + (24 * day + 22) * H, MONDAY + (24 * day + 31) * H) for day in range(7)]
    assert words.span_words(spans, ZONE) == "from 22:00 to 07:00 (daily)"
    assert words.span_words(spans[:5], ZONE) == "from 22:00 to 07:00 (Mon to Fri)"
    assert words.span_words([(MONDAY, MONDAY + 7 * 24 * H)], ZONE) == "at any time"


def test_a_week_with_a_clock_change_is_told_where_it_is_worse():
    # docs: 3 h looked at from 07:00 to 22:00 is 12 h, and 13 h in the night the clocks go back
    case = shown(alarm("no sign_of_life for 3h", **DAYLIGHT))
    assert "13 h" in words.clock_change_sentence(case.result)
    assert words.clock_change_sentence(shown(alarm("no sign_of_life for 3h")).result) == ""


def test_faults_that_do_the_same_are_told_together():
    parts = {name: {"kind": "movement", "supervision": "2h"} for name in ("hall", "bed")}
    case = shown(
        alarm("no (hall.movement or bed.movement) for 3h"),
        parts=parts,
        signals={"sign_of_life": "hall.movement or bed.movement"},
        upkeep={"call": "family"},
    )
    told = {row.faults: row.hazards for row in words.unheard_and_untold([case.result], case.plan)}
    assert told == {"The hall or the bed stuck, the way out by internet down or Ben out of reach": "collapse"}


@pytest.mark.parametrize(
    ("fault", "said"),
    [
        (Fault("lost", "hall"), "the hall lost"),
        (Fault("flat battery not noticed yet", "hall"), "the battery of the hall flat, not noticed yet"),
        (Fault("late", "hall"), "the hall reporting 10 min late"),
        (Fault("unreachable", "ben"), "Ben out of reach"),
        (Fault("out", "internet"), "the way out by internet down"),
        (Fault("stopped", "message broker"), "the message broker stopped"),
    ],
)
def test_a_fault_in_words(fault, said):
    assert words.fault_words(fault, plan_of(**LIFE)) == said


def test_the_story_says_what_held_it_up_and_until_when():
    told = story(shown(alarm("no sign_of_life for 3h", **DAYLIGHT)))
    assert told == [
        "Monday 19:00: X lies still.",
        "19:00: the last sign of life.",
        (
            'The alarm "no sign_of_life for 3h" needs that there has been no sign of life for 3 hours (from 22:00 on) '
            "and it is between 07:00 and 22:00 (from Tuesday 07:00 on)."
        ),
        "Tuesday 07:00: it is raised, 12 h after it began.",
        "Tuesday 07:00: Ben is sent a text; it reaches Ben at Tuesday 07:00:00.001.",
        (
            "So somebody is told at Tuesday 07:00:00.001, 12 h 0.001 s after it began; that is 8 h 0.001 s too late. "
            "The first answer comes at Tuesday 07:02:00.001; nobody on the list comes to the door."
        ),
    ]


def test_the_story_of_what_is_never_noticed_says_why():
    case = shown(alarm("sign_of_life without sign_of_life within 3h", **DAYLIGHT))
    told = story(case)
    assert "There is no moment at which all of that is so: it is never raised." in told
    assert told[-1] == "So nobody is ever told."


def test_the_story_names_each_way_to_be_raised():
    told = story(shown(alarm("(no sign_of_life for 3h and between 07:00 and 22:00) or no sign_of_life for 9h")))
    assert "- there has been no sign of life for 9 hours (from Tuesday 04:00 on)" in told
    assert any(line.startswith("- there has been no sign of life for 3 hours (from 22:00 on)") for line in told)


def test_the_story_says_who_cannot_be_reached_yet():
    people = {
        "ben": {"name": "Ben", "channels": {"text": "1s"}, "reachable": "between 08:00 and 20:00"},
        "eve": {"name": "Eve, friend", "channels": {"call": "20s"}, "minutes_to_door": 5},
    }
    steps = [{"whom": ["ben"], "by": "text", "wait": "5min"}, {"whom": ["eve"], "by": "call", "wait": "5min"}]
    told = story(shown(alarm("no sign_of_life for 3h"), people=people, calls={"family": {"steps": steps}}))
    text = " ".join(told)
    assert "Ben is sent a text, but can be reached only from" in text
    assert "Eve is called; it reaches Eve at" in text
    assert "somebody is at the door at" in text
