"""The strips of learned limits: what is drawn is what was learned."""

from stillwell.charts.limits import Panel, limits_chart
from stillwell.charts.render import render

BEDROOM = Panel("bedroom", (8.0,) * 48 + (2.25,) * 48, (10.5,) * 48 + (3.0,) * 48)
HALL = Panel("hall", (4.0,) * 96, (4.0,) * 96)


def test_both_limits_run_from_midnight_to_midnight():
    data = limits_chart([BEDROOM], "How long may it be quiet?")["datasets"]
    for name, expected in (("question0", BEDROOM.question_h), ("call0", BEDROOM.call_h)):
        rows = data[name]
        assert [row["x"] for row in rows] == [quarter / 4 for quarter in range(97)]
        assert tuple(row["y"] for row in rows[:-1]) == expected
        assert rows[-1]["y"] == expected[-1]


def test_figures_are_those_of_their_hours():
    marks = limits_chart([BEDROOM], "x")["datasets"]["marks0"]
    assert [(row["x"], row["text"]) for row in marks] == [
        (3, "8:00 / 10:30"),
        (9, "8:00 / 10:30"),
        (15, "2:15 / 3:00"),
        (21, "2:15 / 3:00"),
    ]


def test_all_strips_share_one_scale_that_holds_the_longest():
    chart = limits_chart([BEDROOM, HALL, HALL], "x")
    strips = [strip for row in chart["vconcat"] for strip in row["hconcat"]]
    tops = {layer["encoding"]["y"]["scale"]["domain"][1] for strip in strips for layer in strip["layer"]}
    assert len(strips) == 3
    assert len(tops) == 1
    assert min(tops) > 10.5


def test_it_is_drawn_with_its_words():
    picture = render(limits_chart([BEDROOM, HALL], "How long may it be quiet?", "Cottage"), "limits.svg").decode()
    for text in (
        "How long may it be quiet?",
        "bedroom",
        "hall",
        "the home asks",
        "the family is called",
        "4:00 / 4:00",
    ):
        assert text in picture
