"""What fits what: each kind in each place, each unknown name, with the words a person reads."""

import pytest

from stillwell.rules.check import check_action, check_formula
from stillwell.rules.kinds import LEVEL, PULSE, Kind, Names, SignalType
from stillwell.rules.parse import parse_action, parse_formula

pytestmark = pytest.mark.base

NAMES = Names(
    signals={
        "hall_pir.movement": PULSE,
        "bell.pressed": PULSE,
        "sign_of_life": PULSE,
        "door.open": LEVEL,
        "door.lost": LEVEL,
        "lamp.on": LEVEL,
        "bedroom.temperature": SignalType(Kind.NUMBER, "C"),
    },
    states={"holiday": ("off", "on"), "guarding": ("unset", "part_set", "set")},
    switches=frozenset({"lamp", "sounder"}),
)


def judged(text):
    return check_formula(parse_formula(text), NAMES)


def only_mistake(text):
    _, (mistake,) = judged(text)
    return text[slice(*mistake.at)], mistake.what, mistake.hint


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("hall_pir.movement", Kind.PULSE),
        ("door.open", Kind.LEVEL),
        ("bedroom.temperature", Kind.NUMBER),
        ("holiday is not on", Kind.LEVEL),
        ("bedroom.temperature < 16C", Kind.LEVEL),
        ("between 22:00 and sunrise", Kind.LEVEL),
        ("on mon-fri", Kind.LEVEL),
        ("at 08:00", Kind.PULSE),
        ("not door.open", Kind.LEVEL),
        ("door.open and lamp.on", Kind.LEVEL),
        ("at 08:00 and door.open", Kind.PULSE),
        ("door.open or lamp.on", Kind.LEVEL),
        ("hall_pir.movement or bell.pressed", Kind.PULSE),
        ("door.open for 1h", Kind.LEVEL),
        ("no sign_of_life for 3h", Kind.LEVEL),
        ("3 hall_pir.movement within 1h", Kind.LEVEL),
        ("bell.pressed then hall_pir.movement within 1h", Kind.PULSE),
        ("bell.pressed without hall_pir.movement within 1h", Kind.PULSE),
        ("start of door.open", Kind.PULSE),
        ("end of bedroom.temperature < 16C", Kind.PULSE),
        ("not (no sign_of_life for 3h or door.open for 1h)", Kind.LEVEL),
        ("no (hall_pir.movement and holiday is off) for 3h", Kind.LEVEL),
    ],
)
def test_what_fits_has_a_kind_and_no_mistake(text, kind):
    assert judged(text) == (kind, [])


@pytest.mark.parametrize(
    ("text", "under", "what", "hint"),
    [
        # a pulse where a level belongs
        ("hall_pir.movement for 3h", "hall_pir.movement", "is a pulse: say `no hall_pir.movement for 3h`", "`for`"),
        ("not hall_pir.movement", "hall_pir.movement", "is a pulse: say `no hall_pir.movement for 3h`", "`not`"),
        ("start of bell.pressed", "bell.pressed", "is a pulse: say `bell.pressed` alone", "`start of`"),
        # a level where a pulse belongs
        ("no door.open for 3h", "door.open", "is a level: say `not door.open for ...`, or `start of door.open`", "`no"),
        ("3 door.open within 1h", "door.open", "is a level: say `start of door.open`", "counting"),
        ("bell.pressed then door.open within 1h", "door.open", "is a level: say `start of door.open`", "`then`"),
        ("door.open without bell.pressed within 1h", "door.open", "is a level: say `start of door.open`", "`without`"),
        ("3 (door.open or lamp.on) within 1h", "door.open or lamp.on", "say `start of (door.open or lamp.on)`", ""),
        # a number where something that holds or happens belongs
        ("bedroom.temperature for 1h", "bedroom.temperature", "is a number", "Compare it"),
        ("bedroom.temperature and door.open", "bedroom.temperature", "is a number", "Compare it"),
        ("bedroom.temperature or door.open", "bedroom.temperature", "is a number", "Compare it"),
        # joined wrongly
        ("bell.pressed and at 08:00", "at 08:00", "same instant", "`bell.pressed then at 08:00 within 5min`, or `or`"),
        ("bell.pressed or door.open", "door.open", "is a level", "Say `start of door.open`"),
        # compared wrongly
        ("door.open < 3C", "door.open < 3C", "is a level, not a number", "Only numbers"),
        ("bedroom.temperature < 0.00001W", "bedroom.temperature < 0.00001W", "in C, not in W", "< 0.00001C."),
        # unknown names
        ("sign_of_live for 3h", "sign_of_live", "no signal 'sign_of_live'", "Did you mean sign_of_life?"),
        ("xyz.abc", "xyz.abc", "no signal 'xyz.abc'", "Known signals: bedroom.temperature, bell.pressed"),
        ("door for 3h", "door", "is a part, not a signal", "Say door.lost, door.open."),
        ("door.opne", "door.opne", "door has no signal 'opne'", "It has door.lost, door.open."),
        ("holiday", "holiday", "is a state", "Say `holiday is off` or `holiday is on`."),
        ("hollyday is on", "hollyday is on", "no state 'hollyday'", "Did you mean holiday?"),
        ("guarding is half", "guarding is half", "never 'half'", "unset, part_set, set"),
    ],
)
def test_what_does_not_fit_is_told_with_what_would(text, under, what, hint):
    shown, said, would_be_right = only_mistake(text)
    assert shown == under
    assert what in said
    assert hint in would_be_right


def test_every_mistake_of_a_rule_is_told_at_once():
    _, mistakes = judged("(dor.open or holiday is of) and no door.open for 3h and bedroom.temperature < 3W")
    assert len(mistakes) == 4


def test_a_mistake_below_is_not_told_again_above():
    assert only_mistake("no (nothing or bell.pressed) for 3h")[0] == "nothing"


@pytest.mark.parametrize("text", ["lamp on for 5min", "sounder off", "set holiday to on"])
def test_an_action_that_fits(text):
    assert check_action(parse_action(text), NAMES) == []


@pytest.mark.parametrize(
    ("text", "what", "hint"),
    [
        ("door on", "door takes no commands", "Parts that do: lamp, sounder."),
        ("lmap on", "no part 'lmap'", "Did you mean lamp?"),
        ("set hollyday to on", "no state 'hollyday'", "Did you mean holiday?"),
        ("set holiday to maybe", "never 'maybe'", "off, on"),
    ],
)
def test_an_action_that_does_not_fit(text, what, hint):
    (mistake,) = check_action(parse_action(text), NAMES)
    assert what in mistake.what
    assert hint in mistake.hint
    assert mistake.at == (0, len(text))
