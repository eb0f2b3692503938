"""The tide table shows the curve: a look once a day at 08:00 for 12 h of silence, worked by hand.

Somebody who falls silent at 20:00 has been silent for 12 h at 08:00 and is told then; at 20:01 it takes until the next
morning. So the notice time falls from 36 h to 12 h in the 24 h before each 20:00.
"""

import pytest
from tests.drawn import classed, corners, read
from tests.smallest import alarm, plan_of

from stillwell.charts.notice_hours import NEVER_TOLD, longest_by_hour
from stillwell.charts.notice_rows import Panel, week_of
from stillwell.charts.tide import DEPTH, tide
from stillwell.civiltime import find_zone
from stillwell.proof.deadlines import deadlines
from stillwell.proof.prove import prove

pytestmark = pytest.mark.base

ZONE = find_zone("Europe/London")
LIFE = {"parts": {"pir": {"kind": "movement"}}, "signals": {"sign_of_life": "pir.movement"}}
H_MS = 3_600_000


def proved(when, day="30h", night="40h", kind="collapse", **tables):
    hazard = {"name": "collapse", "kind": kind, "deadline": {"day": day, "night": night}}
    plan = plan_of(**(LIFE | {"hazard": [hazard], "alarm": [alarm(when)]} | tables))
    result = prove(plan, 2026).hazards[0]
    return Panel("collapse", result.told, deadlines(plan, result), result.normal.worst_onset, "36 h", "at worst 36 h")


@pytest.fixture(scope="module")
def daily():
    return proved("at 08:00 and no sign_of_life for 12h")


def depths(drawing, look, bottom_ms):
    """Corners of the paths of a class as (hour of the week, notice time in hours)."""
    return [
        (x, y / DEPTH * bottom_ms / H_MS)
        for each in classed(drawing, look)
        for run in corners(each.get("d"))
        for x, y in run
    ]


def test_the_water_is_36_h_deep_after_20_00_and_12_h_before(daily):
    drawing, bottom_ms = tide(daily, ZONE)
    found = depths(drawing, "depth", bottom_ms)
    assert bottom_ms / H_MS == pytest.approx(40 * 1.12, abs=0.01)  # below the deadline of the night
    for evening in range(20, 168, 24):
        there = sorted({round(y) for x, y in found if x == pytest.approx(evening, abs=0.01) and y > 1})
        assert there == [12, 36]
    assert max(y for _, y in found) == pytest.approx(36, abs=0.1)


def test_what_hangs_below_the_deadline_is_late(daily):
    """The deadline by day, from 07:00 to 22:00, is 30 h: it is late from 20:00 to 22:00, as 36 h fall to 34 h."""
    drawing, bottom_ms = tide(daily, ZONE)
    found = depths(drawing, "late", bottom_ms)
    assert {round(x % 24) for x, _ in found} == {20, 22}
    assert {round(y) for _, y in found} == {30, 34, 36}
    deadline = depths(drawing, "deadline", bottom_ms)
    assert {round(y) for _, y in deadline} == {30, 40}


def test_a_stretch_of_never_reaches_the_foot():
    drawing, _ = tide(proved("no sign_of_life for 3h and between 08:00 and 10:00 and on mon, tue"), ZONE)
    assert classed(drawing, "never") == []
    drawing, _ = tide(proved("sign_of_life without sign_of_life within 3h and between 08:00 and 10:00"), ZONE)
    boxes = classed(drawing, "never")
    assert boxes
    assert {float(box.get("height")) for box in boxes} == {DEPTH}


def test_one_thing_broken_is_a_line_of_its_own(daily):
    flat = proved("no sign_of_life for 3h")
    both = Panel("x", flat.told, flat.limit, flat.worst_ms, "3 h", "", broken=daily.told, broken_said="36 h")
    drawing, bottom_ms = tide(both, ZONE)
    assert classed(tide(flat, ZONE)[0], "broken") == []
    found = depths(drawing, "broken", bottom_ms)
    assert max(y for _, y in found) == pytest.approx(36, abs=0.5)
    assert bottom_ms / H_MS == pytest.approx(40 * 1.12, abs=0.01)


def test_a_hundred_cells_that_go_on_alike_are_one_line(daily):
    """No more corners than the curve has: 8 slopes of the week, each with two ends above and two below."""
    drawing, _ = tide(daily, ZONE)
    assert sum(len(run) for each in classed(drawing, "depth") for run in corners(each.get("d"))) <= 8 * 2 + 4


def test_it_says_what_it_shows(daily):
    drawing, _ = tide(daily, ZONE)
    assert read(drawing)[0].text == "collapse: at worst 36 h"
    assert read(drawing).get("role") == "img"


class TestTheTable:
    def hours(self, panel):
        return longest_by_hour(panel.told, panel.limit, week_of(panel, ZONE), ZONE)

    def test_each_hour_holds_the_longest_of_its_onsets(self, daily):
        """At 07:00 it is 25 h until 08:00 of the next day; within 20:00 to 21:00 at most 36 h."""
        (every,) = self.hours(daily)
        assert every.days == tuple(range(7))
        in_hours = [None if longest is None else longest / H_MS for longest in every.hours]
        expected = [12 + (20 - hour) % 24 for hour in range(24)]
        expected[20] = 36
        assert in_hours == pytest.approx(expected, abs=0.001)

    def test_days_that_differ_stand_apart(self):
        found = self.hours(proved("no sign_of_life for 3h and between 08:00 and 10:00 and on mon, tue"))
        assert sorted(day for alike in found for day in alike.days) == list(range(7))
        assert len(found) > 1

    def test_never_is_said(self):
        found = self.hours(proved("sign_of_life without sign_of_life within 3h and between 08:00 and 10:00"))
        assert {NEVER_TOLD} < {hour for alike in found for hour in alike.hours}

    def test_hours_in_which_a_hazard_does_not_count_are_left_out(self):
        door = {
            "openings": {"door": {"kind": "door", "rooms": ["hall", "outside"]}},
            "rooms": {"hall": {"outline": [[0, 0], [1, 0], [1, 1]]}},
            "parts": {"contact": {"kind": "contact", "opening": "door"}},
            "signals": {},
        }
        (every,) = self.hours(proved("contact.opened", kind="wandering", **door))
        assert [hour for hour, longest in enumerate(every.hours) if longest is None] == list(range(7, 22))
