import math

import pytest

from stillwell.replay.rates import Rate
from stillwell.wording.counting import counted, listed, rate_text, share, some, times, two_digits


def test_things_are_counted():
    assert [counted(count, "part") for count in (0, 1, 2, 1234)] == ["no parts", "1 part", "2 parts", "1,234 parts"]
    assert counted(2, "person", "people") == "2 people"
    assert [times(count) for count in (0, 1, 2, 3)] == ["never", "once", "twice", "3 times"]


def test_things_are_listed():
    assert [listed(["a", "b", "c"][:count]) for count in range(4)] == ["", "a", "a and b", "a, b and c"]
    assert some(["a", "b", "c"], 2) == "a, b and c"  # a last one takes no more room than "1 more"
    assert some(["a", "b", "c", "d"], 2) == "a, b and 2 more"


@pytest.mark.parametrize(
    ("part", "text"),
    [
        (0, "0 %"),
        (1e-9, "less than 0.1 %"),
        (0.0371, "3.7 %"),
        (0.5, "50 %"),
        (0.995, "99.5 %"),
        (1 - 1e-9, "more than 99.9 %"),
        (1, "100 %"),
    ],
)
def test_only_nothing_is_none_and_only_all_is_all(part, text):
    assert share(part) == text


def test_a_rate_has_two_digits_and_its_interval():
    assert [two_digits(number) for number in (0, 0.0253, 0.31, 1.5, 9.96, 21.4, 167.2)] == [
        "0",
        "0.025",
        "0.31",
        "1.5",
        "10",
        "21",
        "167",
    ]
    assert rate_text(Rate(3, 1.501, 0.3095, 4.387)) == "1.5 (0.31 to 4.4)"
    assert rate_text(Rate(0, 0.0, 0.0, math.inf)) == "0 (0 to any)"
