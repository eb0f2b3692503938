"""How a refusal reads: where, what, what would be right; carets under the word at fault."""

import pytest

from stillwell.problem import Place, Problem, Refusal, caret, refuse

pytestmark = pytest.mark.base


@pytest.mark.parametrize(
    ("place", "text"),
    [
        (Place(), ""),
        (Place("home.toml"), "home.toml"),
        (Place("home.toml", 12), "home.toml:12"),
        (Place("home.toml", 12, 5), "home.toml:12:5"),
        (Place("home.toml", None, 5), "home.toml"),
        (Place("home.toml", 12, 5, 'alarm "Cold", when'), 'home.toml:12:5 (alarm "Cold", when)'),
        (Place(name="--start"), "--start"),
    ],
)
def test_a_place_says_what_it_knows(place, text):
    assert str(place) == text


def test_a_problem_reads_from_the_place_to_the_remedy():
    problem = Problem("sign_of_life is a pulse", Place("h.toml", 3), "`for` works on a level.", "life for 3h\n^^^^")
    assert str(problem).split("\n") == [
        "h.toml:3: sign_of_life is a pulse",
        "    life for 3h",
        "    ^^^^",
        "    `for` works on a level.",
    ]


def test_a_problem_without_a_place_is_what_is_wrong():
    assert str(Problem("there is nothing")) == "there is nothing"


def test_a_refusal_holds_all_its_problems_in_order():
    first, second = Problem("one"), Problem("two", remedy="Mend it.")
    refusal = Refusal(problem for problem in (first, second))
    assert refusal.problems == (first, second)
    assert str(refusal) == "one\ntwo\n    Mend it."
    assert Refusal(first).problems == (first,)


def test_one_problem_is_refused_in_one_line_of_code():
    (problem,) = refuse("no such zone", "Say Europe/London.", file="h.toml", line=2, name="timezone").problems
    assert problem == Problem("no such zone", Place("h.toml", 2, None, "timezone"), "Say Europe/London.")


@pytest.mark.parametrize(
    ("text", "start", "end", "shown"),
    [
        ("no life for 3", 12, 13, "no life for 3\n            ^"),
        ("a and", 5, 6, "a and\n     ^"),
        ("a\nand\tbc", 6, 8, "a and bc\n      ^^"),
        ("abc", 1, 1, "abc\n ^"),
    ],
)
def test_carets_stand_under_the_stretch(text, start, end, shown):
    assert caret(text, start, end) == shown
