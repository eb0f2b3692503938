"""A formula back to text: the shape a person would have written, whatever shape it came in."""

import pytest

from stillwell.rules import formula as f
from stillwell.rules.parse import parse_action, parse_formula
from stillwell.rules.words import action_text, duration_text, figure_text, formula_text

pytestmark = pytest.mark.base


@pytest.mark.parametrize(
    ("said", "written"),
    [
        ("((a)) or ((b and c))", "a or b and c"),
        ("(a or b) and (c and d)", "(a or b) and (c and d)"),
        ("from 7:00 to sunset + 90min", "between 07:00 and sunset+1h30min"),
        ("on sun, mon-wed", "on mon, tue, wed, sun"),
        ("not (a is b)", "a is not b"),
        ("at least 3 a within 90s", "3 a within 1min30s"),
        ("no (a or b) for 48h", "no (a or b) for 48h"),
        ("a for 72h", "a for 3d"),
        ("a.x <= 16.50°C", "a.x <= 16.5C"),
        ("a.x > 500 ug/m3", "a.x > 500ug/m3"),
        ("start of (a for 1h)", "start of (a for 1h)"),
        ("start of (not a)", "start of not a"),
        ("(a then b within 1h) without c within 1d", "(a then b within 1h) without c within 24h"),
    ],
)
def test_one_way_to_write_it(said, written):
    assert formula_text(parse_formula(said)) == written
    assert formula_text(parse_formula(written)) == written


@pytest.mark.parametrize("text", ["lamp on", "lamp off", "lamp on for 1h30min", "set away to on"])
def test_actions_are_written_as_they_were_read(text):
    assert action_text(parse_action(text)) == text


@pytest.mark.parametrize(
    ("milliseconds", "text"),
    [(1, "1ms"), (61_001, "1min1s1ms"), (129_600_000, "36h"), (259_200_000, "3d"), (262_800_000, "3d1h")],
)
def test_durations_in_the_largest_units_that_read_well(milliseconds, text):
    assert duration_text(milliseconds) == text


@pytest.mark.parametrize(
    ("number", "text"), [(16, "16"), (-0.5, "-0.5"), (1e-5, "0.00001"), (1e17, "100000000000000000"), (0.1, "0.1")]
)
def test_figures_have_no_exponent(number, text):
    assert figure_text(number) == text


def test_a_negated_state_is_read_as_the_same_formula():
    assert formula_text(f.Not(f.StateIs("a", "b"))) == "a is not b"
