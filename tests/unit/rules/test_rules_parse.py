"""Text to formula: what each sentence becomes, and what is said of the slips people make."""

import pytest

from stillwell.civiltime import ClockTime, SunTime
from stillwell.rules import formula as f
from stillwell.rules.kinds import RuleMistake
from stillwell.rules.parse import DEEPEST_RULE, LONGEST_RULE, parse_action, parse_duration_ms, parse_formula

pytestmark = pytest.mark.base

A, B, C = f.Signal("a"), f.Signal("b"), f.Signal("c")
HOUR_MS = 3_600_000


def refused(text, read=parse_formula):
    with pytest.raises(RuleMistake) as caught:
        read(text)
    return caught.value.mistake


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("a or b and c", f.Or((A, f.And((B, C))))),
        ("(a or b) and c", f.And((f.Or((A, B)), C))),
        ("a and b and c", f.And((A, B, C))),
        ("a and (b and c)", f.And((A, f.And((B, C))))),
        ("not a and b", f.And((f.Not(A), B))),
        ("not a for 1h", f.HeldFor(f.Not(A), HOUR_MS)),
        ("not (a for 1h)", f.Not(f.HeldFor(A, HOUR_MS))),
        ("not not a", f.Not(f.Not(A))),
        ("no a for 1h and b", f.And((f.NoneFor(A, HOUR_MS), B))),
        ("no (a or b) for 1h", f.NoneFor(f.Or((A, B)), HOUR_MS)),
        ("at least 3 a within 1h", f.CountWithin(3, A, HOUR_MS)),
        ("a then b within 1h", f.Then(A, B, HOUR_MS)),
        ("a without b within 1h", f.Without(A, B, HOUR_MS)),
        ("start of a.x < 3C", f.StartOf(f.Compare("a.x", "<", 3, "C"))),
        ("start of a for 1h", f.HeldFor(f.StartOf(A), HOUR_MS)),
        ("a is not b", f.Not(f.StateIs("a", "b"))),
        ("a is on", f.StateIs("a", "on")),
        ("at 7:05", f.At(ClockTime(425))),
        ("from sunset -30min to 07:00", f.Between(SunTime("sunset", -1_800_000), ClockTime(420))),
        ("on sat-mon, wed", f.OnDays(frozenset({0, 2, 5, 6}))),
        ("a.x >= -0.5 °C", f.Compare("a.x", ">=", -0.5, "C")),
        ("a\n  and\tb", f.And((A, B))),
        # names that begin like words of the language, or like days and units
        ("notice", f.Signal("notice")),
        ("on_duty and online.at", f.And((f.Signal("on_duty"), f.Signal("online.at")))),
        ("sunny is satisfied", f.StateIs("sunny", "satisfied")),
        ("friday.wet for 1h", f.HeldFor(f.Signal("friday.wet"), HOUR_MS)),
    ],
)
def test_a_sentence_becomes_this_formula(text, meant):
    assert parse_formula(text) == meant


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("lamp on", f.Switch("lamp", True)),
        ("lamp off", f.Switch("lamp", False)),
        ("lamp on for 2h", f.Switch("lamp", True, 2 * HOUR_MS)),
        ("set away to on", f.SetState("away", "on")),
    ],
)
def test_a_sentence_becomes_this_action(text, meant):
    assert parse_action(text) == meant


@pytest.mark.parametrize(
    ("text", "milliseconds"),
    [("1ms", 1), ("90s", 90_000), ("2h30min", 9_000_000), ("1.5h", 5_400_000), (" 400d ", 34_560_000_000)],
)
def test_a_duration_is_so_many_milliseconds(text, milliseconds):
    assert parse_duration_ms(text) == milliseconds


@pytest.mark.parametrize("text", ["", "3", "3 h", "h", "-1h", "0s", "0.4ms", "401d", "1e9h", "9" * 400 + "h"])
def test_no_duration(text):
    assert refused(text, parse_duration_ms).hint


# Each slip: the rule, the word the carets stand under ("" past the end), and what must be in the hint.
SLIPS = [
    ("no a for 3", "3", "3s, 3min or 3h"),
    ("no a for 3 h", "3", "Write it as 3h."),
    ("a for 10 minutes", "10", "Write it as 10min."),
    ("no a", "", "Say for how long"),
    ("at 7am", "7", "08:00 or 20:00"),
    ("at 24:00", "24:00", "Midnight is 00:00."),
    ("at 12:60", "12:60", "23:59"),
    ("a = on", "=", "Say `is`"),
    ("a.x == 3C", "=", "Say `is`"),
    ("a && b", "&", "Say `and`."),
    ("a || b", "|", "Say `or`."),
    ("Hall.movement", "Hall.movement", "small letters"),
    ("holiday off", "off", "`holiday is off`"),
    ("no a for 3h while lamp on", "while", "and"),
    ("a.x < 3", "", "a unit"),
    ("a.x < 3F", "F", "small letters"),
    ("a)", ")", "No bracket is open here."),
    ("(a", "", ")"),
    ("a and", "", "a name"),
    ("a then b", "", "within"),
    ("3 a", "", "within"),
    ("on monday", "monday", "mon, tue"),
    ("at sunset+7h", "+7h", "at most 6h"),
    ("0 a within 1h", "0", "1 to 1000"),
    ("1001 a within 1h", "1001", "1 to 1000"),
    ("a for 500d", "500d", "400d"),
    ("a.x < " + "9" * 400 + "C", "a.x < " + "9" * 400 + "C", "ordinary number"),
    ("a $ b", "$", "and"),
]


@pytest.mark.parametrize(("text", "under", "hint"), SLIPS)
def test_a_slip_is_shown_with_what_would_be_right(text, under, hint):
    mistake = refused(text)
    start, end = mistake.at
    assert (text[start:end], start) == ((under, text.index(under)) if under else ("", len(text)))
    assert hint in mistake.hint


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("lamp", "on or off"),
        ("lamp on for 5", "5s, 5min or 5h"),
        ("lamp off for 5min", "`lamp off`"),
        ("set away on", "to"),
    ],
)
def test_a_slip_in_an_action(text, hint):
    assert hint in refused(text, parse_action).hint


def test_nothing_is_no_rule():
    assert "nothing here" in refused(" \n ").what


def test_a_rule_has_an_end():
    assert str(LONGEST_RULE) in refused("a or " * 250 + "a").what
    assert parse_formula("a or " * 199 + "a") == f.Or((A,) * 200)


def test_a_rule_is_not_nested_without_end():
    assert str(DEEPEST_RULE) in refused("not " * DEEPEST_RULE + "(a for 1h)").what
    assert parse_formula("not " * (DEEPEST_RULE - 1) + "a")
    assert parse_formula("(" * 300 + "a" + ")" * 300) == A


def test_a_node_knows_where_it_stood():
    text = "a and no (b or c) for 1h"
    whole = parse_formula(text)
    first, silence = whole.parts
    assert [text[slice(*node.at)] for node in (whole, first, silence, silence.body.parts[1])] == [
        text, "a", "no (b or c) for 1h", "c",
    ]  # fmt: skip
