"""Any formula survives being written and read; any text is a rule or a clear refusal."""

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from stillwell.civiltime import ClockTime, SunTime
from stillwell.rules import formula as f
from stillwell.rules.check import check_formula
from stillwell.rules.kinds import LEVEL, PULSE, Kind, Names, RuleMistake, SignalType
from stillwell.rules.parse import LONGEST_RULE, parse_action, parse_duration_ms, parse_formula
from stillwell.rules.words import action_text, duration_text, formula_text

pytestmark = pytest.mark.base

durations = st.integers(1, 400 * 86_400_000)
names = st.sampled_from(["hall.movement", "door.open", "life", "busy", "north.wet", "online.on", "formal.open"])
clocks = st.integers(0, 1439).map(ClockTime)
suns = st.builds(
    SunTime, st.sampled_from(["sunrise", "sunset"]), st.integers(-21_600_000, 21_600_000).filter(lambda ms: ms != 0)
)
times = clocks | suns | st.sampled_from([SunTime("sunrise"), SunTime("sunset")])
days = st.frozensets(st.integers(0, 6), min_size=1)
COMPARISONS = ("<", "<=", ">", ">=")
UNITS = ("C", "%", "ppm", "ug/m3", "W", "lx")


@st.composite
def formulas(draw, depth=4):
    inner = formulas(depth - 1)
    kind = draw(st.integers(0, 16 if depth else 5))
    match kind:
        case 0:
            return f.Signal(draw(names))
        case 1:
            return f.StateIs(
                draw(st.sampled_from(["away", "guarding"])), draw(st.sampled_from(["on", "off", "part_set"]))
            )
        case 2:
            figure = draw(st.integers(-9999, 9999) | st.floats(-1e18, 1e18))
            return f.Compare(draw(names), draw(st.sampled_from(COMPARISONS)), figure, draw(st.sampled_from(UNITS)))
        case 3:
            return f.Between(draw(times), draw(times))
        case 4:
            return f.OnDays(draw(days))
        case 5:
            return f.At(draw(times))
        case 6:
            return f.Not(draw(inner))
        case 7 | 8:
            node = f.And if kind == 7 else f.Or
            unlike = inner.filter(lambda part: not isinstance(part, node))
            return node(tuple(draw(st.lists(unlike, min_size=2, max_size=3))))
        case 9:
            return f.HeldFor(draw(inner), draw(durations))
        case 10:
            return f.NoneFor(draw(inner), draw(durations))
        case 11:
            return f.CountWithin(draw(st.integers(1, 1000)), draw(inner), draw(durations))
        case 12 | 13:
            return (f.Then if kind == 12 else f.Without)(draw(inner), draw(inner), draw(durations))
        case 14:
            return f.StartOf(draw(inner))
        case 15:
            return f.NoneForLimit(draw(inner), draw(st.sampled_from(["quiet", "far"])))
    return f.EndOf(draw(inner))


@settings(max_examples=400, deadline=None)
@given(formulas().filter(lambda one: len(formula_text(one)) <= LONGEST_RULE))
def test_a_formula_written_and_read_is_the_same(formula):
    assert parse_formula(formula_text(formula)) == formula


@settings(deadline=None)
@given(
    st.builds(f.Switch, st.just("lamp"), st.just(True), st.none() | durations)
    | st.just(f.Switch("lamp", False))
    | st.builds(f.SetState, st.just("away"), st.sampled_from(["on", "off"]))
)
def test_an_action_written_and_read_is_the_same(action):
    assert parse_action(action_text(action)) == action


@settings(deadline=None)
@given(durations)
def test_a_duration_written_and_read_is_the_same(duration_ms):
    assert parse_duration_ms(duration_text(duration_ms)) == duration_ms


WORDS = """no not for within then without and or at least start end of between from to on is mon fri sunset + - 3h
08:00 25:99 3 16C < >= ( ) , set off hall.movement door.open HALL 7am \u00b0 \u200b 1e9h 99999999999999999999d"""
words = st.sampled_from(WORDS.split())


@settings(max_examples=600, deadline=None)
@given(st.text(max_size=60) | st.lists(words, max_size=25).map(" ".join))
@example("(" * 999)
@example("not " * 249 + "x")
@example("(no " * 200 + "a.b" + " for 1s)" * 90)
@example("1" * 900 + " a.b within 1h")
@example("a.b < 1" + "0" * 400 + "C")
@example("on mon-" + "fri-mon" * 20)
@example("a.b < 0.00001C")
def test_any_text_is_a_rule_or_a_clear_refusal(text):
    known = Names({"hall.movement": PULSE, "door.open": LEVEL, "t.t": SignalType(Kind.NUMBER, "C")}, {"away": ("on",)})
    for read, write in ((parse_formula, formula_text), (parse_action, action_text)):
        try:
            got = read(text)
        except RuleMistake as refused:
            mistakes = [refused.mistake]
        else:
            assert read(write(got)) == got
            mistakes = check_formula(got, known)[1] if read is parse_formula else []
        assert all(one.what and 0 <= one.at[0] < one.at[1] <= len(text) + 1 for one in mistakes)
