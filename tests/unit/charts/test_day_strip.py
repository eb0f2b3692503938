"""The strip of a day: what is drawn where, by hand, and that the words say the same."""

from xml.etree import ElementTree as ET
from zoneinfo import ZoneInfo

import pytest

from stillwell.charts.day_strip import CELL_MS, DayStrip, Event, drawing, event_row, hours, inked, room_row

pytestmark = pytest.mark.base

ZONE = ZoneInfo("Europe/London")
START_MS = 1_773_100_800_000
"""Tue 10 Mar 2026 00:00 GMT (`date -u -d @1773100800`)."""
HOUR_MS = 3_600_000
DAY = (START_MS, START_MS + 24 * HOUR_MS)


def at(hour, minute=0):
    return START_MS + hour * HOUR_MS + minute * 60_000


def strip(*rows, span=DAY, nights=()):
    return DayStrip(span, tuple(nights), rows)


def shapes(svg, kind):
    return [one for one in ET.fromstring(svg).iter() if one.get("class") == kind]


def test_movements_in_neighbouring_cells_are_one_stretch_of_ink():
    times = [at(6, 1), at(6, 4), at(6, 7), at(8, 0)]
    assert inked(times, DAY) == ((at(6, 0), at(6, 10)), (at(8, 0), at(8, 5)))
    assert CELL_MS == 300_000


def test_what_lies_outside_of_the_day_is_not_drawn():
    assert inked([at(-1), at(24), at(25)], DAY) == ()


def test_ink_lies_where_its_time_is():
    """06:00 is a quarter of the day, ten minutes are 10/1440 of it."""
    row = room_row("hall", [at(6, 1), at(6, 7)], [], DAY, ZONE)
    (box,) = shapes(drawing(row, strip(row)), "ink")
    assert box.get("x") == "25%"
    assert float(box.get("width").rstrip("%")) == pytest.approx(100 * 10 / 1440, abs=0.001)


def test_a_single_movement_can_be_seen_on_a_telephone():
    row = room_row("hall", [at(6)], [], DAY, ZONE)
    (box,) = shapes(drawing(row, strip(row)), "ink")
    assert float(box.get("width").rstrip("%")) / 100 * 240 >= 0.8


def test_the_words_say_what_is_drawn():
    row = room_row("hall", [at(6, 1), at(6, 12), at(9)], [(at(10), at(12))], DAY, ZONE)
    assert row.said == "Movement 06:00 to 06:15 and 09:00 to 09:05. Not seen 10:00 to 12:00."
    assert row.said in drawing(row, strip(row))
    assert room_row("hall", [], [], DAY, ZONE).said == "No movement."


def test_of_a_busy_day_the_words_tell_the_end_and_count_the_rest():
    row = room_row("hall", [at(hour) for hour in range(20)], [], DAY, ZONE)
    assert row.said.startswith("Movement 12:00 to 12:05, 13:00 to 13:05,")
    assert row.said.endswith("and 12 times before.")


def test_what_was_not_seen_is_cut_to_the_day():
    row = room_row("hall", [], [(at(-5), at(1)), (at(23), at(30)), (at(-9), at(-8))], DAY, ZONE)
    assert row.unseen == ((at(0), at(1)), (at(23), at(24)))


def test_events_are_marks_with_words():
    row = event_row("doors", "doors", [Event(at(12), "back door opened"), Event(at(30), "later")], DAY, ZONE)
    assert row.said == "12:00 back door opened."
    (mark,) = shapes(drawing(row, strip(row)), "mark")
    assert mark[0].text == "back door opened"
    assert event_row("alarms", "alarms", [], DAY, ZONE).said == "Nothing."


def test_the_night_is_a_darker_ground():
    row = room_row("hall", [], [], DAY, ZONE)
    (box,) = shapes(drawing(row, strip(row, nights=[(at(0), at(6))])), "night")
    assert (box.get("x"), box.get("width")) == ("0%", "25%")


def test_every_third_hour_is_marked_by_the_clock_on_the_wall():
    found = [one.text for one in ET.fromstring(hours(strip(), ZONE)).iter() if one.tag == "text"]
    assert found == ["03", "06", "09", "12", "15", "18", "21"]


def test_on_the_day_the_clocks_go_forward_the_hours_still_stand_where_they_are():
    """Sun 29 Mar 2026 in London: 01:00 GMT becomes 02:00 BST (tz database): 03:00 BST is two hours after midnight."""
    start = 1_774_742_400_000  # `date -u -d @1774742400`
    svg = hours(strip(span=(start, start + 24 * HOUR_MS)), ZONE)
    first = next(one for one in ET.fromstring(svg).iter() if one.tag == "text")
    assert first.text == "03"
    assert float(first.get("x").rstrip("%")) == pytest.approx(100 * 2 / 24, abs=0.001)


def test_whatever_a_name_holds_it_is_text():
    row = room_row('<script>alert("x")</script>', [at(6)], [], DAY, ZONE)
    svg = drawing(row, strip(row))
    assert "<script" not in svg
    assert "<script>" in "".join(ET.fromstring(svg).itertext())
