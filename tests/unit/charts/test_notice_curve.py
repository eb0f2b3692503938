"""The chart of notice time shows the exact corners of the curve, by hand for a look once a day."""

from xml.etree import ElementTree as ET

import pytest
from tests.smallest import REACHED_AFTER_MS, alarm, plan_of

from stillwell.charts import palette
from stillwell.charts.notice_curve import notice_curve
from stillwell.charts.notice_rows import Panel, Rows
from stillwell.charts.render import render
from stillwell.civiltime import find_zone
from stillwell.proof.deadlines import deadlines
from stillwell.proof.prove import prove

ZONE = find_zone("Europe/London")
LIFE = {"parts": {"pir": {"kind": "movement"}}, "signals": {"sign_of_life": "pir.movement"}}
H_MS = 3_600_000
TELLING_H = REACHED_AFTER_MS / H_MS


def panel(when, kind="collapse", day="30h", night="40h", **tables):
    hazard = {"name": "collapse", "kind": kind, "deadline": {"day": day, "night": night}}
    plan = plan_of(**(LIFE | {"hazard": [hazard], "alarm": [alarm(when)]} | tables))
    result = prove(plan, 2026, faults=("ben unreachable",)).hazards[0]
    return Panel("collapse", result.told, deadlines(plan, result), result.normal.worst_onset, "36 h", "at worst 36 h")


@pytest.fixture(scope="module")
def daily():
    return panel("at 08:00 and no sign_of_life for 12h")


def corners(rows, name="nothing broken"):
    return [(row["x"], row["y"]) for row in rows.lines() if row["line"] == name]


def test_a_daily_look_is_a_saw_from_36_h_down_to_12_h(daily):
    rows = Rows(daily, ZONE)
    found = corners(rows)
    assert rows.unit == "hours"
    assert found[0] == pytest.approx((0, 32 + TELLING_H), abs=1e-4)  # from Monday 00:00 to Tuesday 08:00
    for evening in range(20, 7 * 24, 24):
        heights = sorted(y for x, y in found if x == pytest.approx(evening, abs=1e-4))
        assert heights == pytest.approx([12, 36], abs=1e-4)
    assert min(y for _, y in found) == pytest.approx(12, abs=1e-4)
    assert all(y == pytest.approx(12 + (20 - x) % 24, abs=1e-4) or y > 35.99 for x, y in found)


def test_each_line_is_whole(daily):
    runs = {row["run"] for row in Rows(daily, ZONE).lines()}
    assert runs == {"nothing broken 1"}


def test_the_deadline_changes_with_the_night(daily):
    rows = list(Rows(daily, ZONE).deadlines())
    assert [(row["x"], row["x2"], row["y"]) for row in rows[:3]] == [(0, 7, 40), (7, 22, 30), (22, 31, 40)]
    assert rows[-1]["x2"] == 7 * 24


def test_what_is_never_noticed_is_a_line_in_the_band_at_the_top():
    rows = Rows(panel("no sign_of_life for 3h and between 08:00 and 10:00 and on mon, tue"), ZONE)
    assert rows.has_never is False  # a week is not for ever
    rows = Rows(panel("sign_of_life without sign_of_life within 3h and between 08:00 and 10:00"), ZONE)
    heights = {y for _, y in corners(rows)}
    assert rows.has_never
    assert rows.in_band > rows.floor
    assert {round(y, 3) for y in heights} == {3.0, round(rows.in_band, 3)}


def test_a_line_far_above_the_rest_leaves_the_panel_where_it_crosses_its_edge(daily):
    flat = panel("no sign_of_life for 3h", day="4h", night="4h")
    rows = Rows(
        Panel("x", flat.told, flat.limit, flat.worst_ms, "3 h", "", broken=daily.told, broken_said="36 h"), ZONE
    )
    assert rows.cut_off
    broken = corners(rows, "one thing broken")
    assert broken == []  # 12 h at the least, and the panel ends at 8 h
    assert [row["text"] for row in rows.remarks()] == ["up to 36 h"]


def test_a_falling_line_comes_in_at_the_edge():
    flat = panel("no sign_of_life for 3h", day="4h", night="4h")
    saw = panel("at 08:00 and no sign_of_life for 1h")  # from just after 07:00: 25 h, down to 1 h the next day
    rows = Rows(Panel("x", flat.told, flat.limit, flat.worst_ms, "", "", broken=saw.told, broken_said="25 h"), ZONE)
    inside = [y for _, y in corners(rows, "one thing broken")]
    assert max(inside) == pytest.approx(8)
    entering = [x for x, y in corners(rows, "one thing broken") if y == pytest.approx(8, abs=1e-6)]
    assert pytest.approx(min(x for x in entering if x > 12), abs=1e-3) == 24.0  # 8 h before 08:00


def test_only_nights_are_drawn_where_only_nights_count():
    door = {
        "rooms": {"hall": {"outline": [[0, 0], [3, 0], [3, 3]]}},
        "openings": {"door": {"kind": "door", "rooms": ["hall", "outside"]}},
        "parts": {"pir": {"kind": "movement"}, "contact": {"kind": "contact", "opening": "door"}},
    }
    rows = Rows(panel("contact.opened", kind="wandering", **door), ZONE)
    hours = {x for x, _ in corners(rows)}
    assert {0, 7, 22, 31} <= hours
    assert not any(7 < x % 24 < 22 for x in hours)
    assert {(row["x"], row["x2"]) for row in rows.deadlines()} >= {(0, 7), (22, 31)}


def test_the_chart_is_drawn_and_says_what_it_shows(daily):
    svg = render(notice_curve([daily, daily], ZONE, "How long", "Lock house"), "x.svg").decode()
    texts = ["".join(node.itertext()) for node in ET.fromstring(svg).iter("{http://www.w3.org/2000/svg}text")]
    for text in ("How long", "Lock house", "collapse", "nothing broken", "deadline", "hours", "Mon", "Sun", "36 h"):
        assert text in texts
    assert palette.PAPER in svg
