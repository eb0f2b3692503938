from pathlib import Path

from tests.smallest import alarm, plan_of

from stillwell.plan.read import read_plan
from stillwell.wording.plans import hazard_sentence, holdings, person_sentence
from stillwell.wording.rules import aid_sentence, alarm_sentence, call_sentence, never_sentence, signal_sentence
from stillwell.wording.vocabulary import vocabulary

HOME = Path(__file__).parents[2] / "pages/home.toml"
PLAN = read_plan(HOME.read_text("utf-8"), "home.toml")
WORDS = vocabulary(PLAN)


def test_the_rules_of_a_home_read_as_sentences():
    assert alarm_sentence(PLAN.alarm[0], WORDS) == (
        'While holiday is off, when there has been no sign of life for 3 hours: the call list "family" is told.'
    )
    assert aid_sentence(PLAN.aid[0], WORDS) == (
        "Between 16:00 and 08:00, when the front door opens: the hall lamp goes on for 5 minutes."
    )
    assert never_sentence(PLAN.never[0], WORDS) == (
        "It may never be that the hall lamp is on, between 07:00 and 07:10."
    )
    assert signal_sentence("sign_of_life", PLAN, WORDS) == (
        '"sign of life" means that there is movement in the hall or the front door opens.'
    )


def test_what_must_hold_too_stands_ahead():
    plan = plan_of(
        parts={"lamp": {"kind": "lamp"}, "button": {"kind": "push button"}},
        states={"holiday": {"values": ["off", "on"], "initial": "off"}},
        alarm=[
            alarm("button.pressed", **{"while": "between 23:00 and 05:30 and holiday is off", "do": ["lamp on"]}),
            alarm("at 08:00", **{"while": "(lamp.on or holiday is on) and on sat"}),
        ],
    )
    assert [alarm_sentence(each, vocabulary(plan)) for each in plan.alarm] == [
        (
            'Between 23:00 and 05:30 while holiday is off, when the button is pressed: the call list "family" is told '
            "and the lamp goes on."
        ),
        'On Saturdays while (the lamp is on or holiday is on), when it is 08:00: the call list "family" is told.',
    ]


def test_who_is_told_in_which_order():
    steps = [
        {"whom": ["ben"], "by": "text", "wait": "3min"},
        {"whom": ["ben", "eve"], "by": "call", "wait": "90s"},
    ]
    people = {
        "ben": {"name": "Ben Moor, neighbour", "channels": {"text": "1s", "call": "1s"}, "minutes_to_door": 4},
        "eve": {"name": "Eve", "channels": {"call": "1s"}, "reachable": "on sat, sun"},
    }
    plan = plan_of(people=people, calls={"a": {"steps": steps}, "b": {"steps": steps[:1], "then": "repeat"}})
    assert [call_sentence(call, plan) for call in plan.calls.values()] == [
        (
            "First Ben Moor by text; after 3 min Ben Moor and Eve by call; after 4 min 30 s everyone at once, until "
            "somebody answers."
        ),
        "First Ben Moor by text; after 3 min again from the beginning, until somebody answers.",
    ]
    assert [person_sentence(person) for person in plan.people.values()] == [
        "Ben Moor: by text or call, always; 4 min from the door.",
        "Eve: by call, on Saturdays and Sundays; cannot come.",
    ]


def test_a_hazard_says_its_deadline_and_its_alarms():
    assert hazard_sentence(PLAN.hazard[0], PLAN) == (
        'Somebody must be told within 4 h by day, 10 h by night; raised by "No sign of life".'
    )
    plan = plan_of()
    assert hazard_sentence(plan.hazard[0], plan) == ("Somebody must be told within 1 h; no alarm is there for it.")


def test_what_a_plan_holds():
    assert holdings(PLAN) == (
        "1 room, 1 door or window, 4 parts, 1 person, 1 call list, 1 hazard, 1 alarm, 1 aid, 1 claim"
    )
