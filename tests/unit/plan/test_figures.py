"""The table of figures: what it refuses, and where."""

from pathlib import Path

import pytest

from stillwell.plan.edit import write_plan
from stillwell.plan.read import read_plan
from stillwell.problem import Refusal

pytestmark = pytest.mark.base

SMALL = Path(__file__).with_name("small.toml").read_text("utf-8")


def read(figures):
    return read_plan(f"{SMALL}\n[figures]\n{figures}\n", "home.toml")


def test_all_of_it_may_be_left_out():
    figures = read_plan(SMALL, "home.toml").figures
    assert figures == read("").figures
    assert (figures.unreachable, figures.walk_test_every, figures.parts) == (None, None, {})


def test_it_is_read_and_written_again():
    text = """unreachable = 0.05
walk_test_every = "90d"
kinds = { "push button" = { failures_per_year = 0.2, repair = "3d" } }
parts.kettle = { failures_per_year = 1.0 }
power_cuts = { per_year = 2.5 }"""
    plan = read(text)
    assert plan.figures.kinds["push button"].repair == 3 * 86_400_000
    assert plan.figures.parts["kettle"].failures_per_year == 1
    assert read_plan(write_plan(plan), "home.toml").figures == plan.figures


@pytest.mark.parametrize(
    ("figures", "what", "remedy"),
    [
        ("parts.kettel = { failures_per_year = 1.0 }", 'there is no part "kettel"', "Did you mean kettle?"),
        ('kinds = { "movment" = { repair = "3d" } }', 'there is no kind of part "movment"', "Did you mean movement?"),
        ('ways_out = { interent = { repair = "3d" } }', 'there is no way out "interent"', "Did you mean internet?"),
        ("people = { bne = 0.1 }", 'there is no person "bne"', "Did you mean ben?"),
        ("unreachable = 2.0", "2.0 is too large", "The most is 1."),
        ("unreachable = -0.1", "-0.1 is too small", "The least is 0."),
        ("stuck_share = 0.7\nlate_share = 0.5", "more failures are stuck or late than there are failures", "at most 1"),
        ("power_cuts = { per_year = 0.0 }", "0.0 is too small", "The least is 0.001."),
        ('walk_test_every = "often"', "'often' is no duration", ""),
        ("chance = 0.3", 'there is no key "chance" here', ""),
    ],
)
def test_what_does_not_fit_is_told_with_its_line(figures, what, remedy):
    with pytest.raises(Refusal) as refusal:
        read(figures)
    (problem,) = refusal.value.problems
    assert what in problem.what
    assert remedy in problem.remedy
    first = SMALL.count("\n") + 3
    assert first <= problem.place.line < first + 2
