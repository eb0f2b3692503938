"""How often for nothing against how soon: what is drawn is what was judged."""

import json

import pytest
from tests.unit.limits.lived import lived
from tests.unit.limits.row_home import TEXT

from stillwell.charts.palette import INK, WARNING
from stillwell.charts.render import render
from stillwell.charts.trade_off import HALF, MOST, Panel, Point, Way, trade_off
from stillwell.cli.ending import run
from stillwell.record.text import write_text

LEARNED = Way("learned limits", (Point(4.9, 3.3, "1 in 7 d"), Point(0.97, 4.0, "1 in 30 d", (0.32, 2.3))))
FIXED = Way("fixed limits", (Point(25.0, 3.6, "4 h"), Point(0.0, 9.6, "10 h")))
DAILY = Way("a look a day at 08:00", (Point(0.0, 23.7),))
OFTEN = Way("Often 1999", (Point(98.0, 2.2),))
LATE = Way("Late 2001", (Point(0.19, 84.0),))
NEVER = Way("Never 2003", (Point(0.5, None),))
ALL = (LEARNED, FIXED, DAILY, OFTEN, LATE, NEVER)


@pytest.fixture(scope="module")
def chart():
    return trade_off([Panel(HALF, ALL)], "How soon?", ["A home."])


def rows(chart, name="points0"):
    return {(row["way"], row["i"]): row for row in chart["datasets"][name]}


def names(chart, name="names0"):
    return {row["name"]: row for row in chart["datasets"][name]}


def test_every_setting_is_where_it_was_judged(chart):
    found = rows(chart)
    assert len(found) == 8
    assert (found["learned limits", 0]["false"], found["learned limits", 0]["hours"]) == (4.9, 3.3)
    assert (found["fixed limits", 1]["false"], found["fixed limits", 1]["hours"]) == (0, 9.6)


def test_what_is_beyond_an_axis_stands_just_outside_and_says_how_far(chart):
    found = rows(chart)
    assert 32 < found["Often 1999", 0]["false"] < 36
    assert 36 < found["Late 2001", 0]["hours"] == found["Never 2003", 0]["hours"] < 40
    assert {"Often 1999: 98 in 30 d", "Late 2001: 84 h", "Never 2003: never"} <= set(names(chart))


def test_each_setting_of_a_line_is_named_and_each_lone_way(chart):
    assert {"1 in 7 d", "1 in 30 d", "4 h", "10 h", "a look a day at 08:00"} <= set(names(chart))
    assert len(names(chart)) == 8


def test_what_was_asked_for_stands_out_with_its_interval(chart):
    chosen = {key: row for key, row in rows(chart).items() if row["chosen"]}
    assert set(chosen) == {("learned limits", 1)}
    assert (chosen["learned limits", 1]["low"], chosen["learned limits", 1]["high"]) == (0.32, 2.3)
    assert [name for name, row in names(chart).items() if row["chosen"]] == ["1 in 30 d"]


def test_names_are_led_to_where_their_points_are_drawn(chart):
    """A name is placed in pixels by our own arithmetic; the scales that draw the points must be the same."""
    (panel,) = chart["hconcat"]
    points = panel["layer"][2]["encoding"]
    x, y = points["x"]["scale"], points["y"]["scale"]
    assert (x["type"], y["type"]) == ("pow", "log")
    at = names(chart)["1 in 7 d"]
    assert at["to_x"] == pytest.approx(panel["width"] * (4.9 / x["domain"][1]) ** x["exponent"])
    low, high = y["domain"]
    assert low * (high / low) ** (1 - at["to_y"] / panel["height"]) == pytest.approx(3.3)


def test_lines_are_in_ink_and_grey_and_nothing_is_in_the_colour_of_warnings(chart):
    colour = chart["hconcat"][0]["layer"][0]["encoding"]["color"]
    assert colour["scale"]["domain"][:2] == ["learned limits", "fixed limits"]
    assert colour["scale"]["range"][0] == INK
    assert WARNING not in colour["scale"]["range"]
    assert colour["legend"]["values"] == ["learned limits", "fixed limits"]


def test_panels_share_their_axes():
    chart = trade_off([Panel(HALF, (LEARNED, DAILY)), Panel(MOST, (FIXED, LATE))], "x", [])
    scales = [panel["layer"][2]["encoding"]["y"]["scale"]["domain"] for panel in chart["hconcat"]]
    assert scales[0] == scales[1]


def test_it_is_drawn_with_its_words(chart):
    picture = render(chart, "choices.svg").decode()
    for text in ("How soon?", "A home.", HALF, "false alarms in 30 days", "1 in 30 d", "Never 2003: never", "0.1"):
        assert text in picture


@pytest.fixture
def home(tmp_path):
    (tmp_path / "home.toml").write_text(TEXT, "utf-8")
    return tmp_path


def learned(home, days, capsys):
    record = home / "lived.csv"
    record.write_text("\n".join(write_text(lived(days))) + "\n", "utf-8")
    file = home / "choices.svg"
    code = run(["limits", str(home), str(record), "--trade-off", str(file), "--json"])
    return code, file, capsys.readouterr()


def test_the_command_draws_all_choices(home, capsys):
    code, file, said = learned(home, 30, capsys)
    assert (code, said.err) == (0, "")
    assert json.loads(said.out)["charts"] == [str(file)]
    picture = file.read_text("utf-8")
    for text in ("1 in 30 d", "1 in 180 d", "24 h", "a look a day at 08:00", "Wilhelm-Wahl 2024", HALF, MOST):
        assert text in picture


def test_where_nothing_could_be_tried_there_is_nothing_to_draw(home, capsys):
    code, file, said = learned(home, 7, capsys)
    assert code == 2
    assert "no days left to try limits on" in said.out
    assert not file.exists()
