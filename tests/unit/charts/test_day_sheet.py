"""The sheet of a page: ink, nights, outings, outages and marks stand where they were.

The clocks of 2026 in Britain go forward on 29 March at 01:00 UTC (Summer Time Order 2002).
"""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.drawn import classed, read, stretches

from stillwell.charts.day_sheet import Marked, Seen, day_drawings, months, months_drawing, whole_drawing
from stillwell.charts.days import sheet_of

pytestmark = pytest.mark.base

LONDON = ZoneInfo("Europe/London")
MONDAY = date(2026, 1, 5)
MINUTE_MS = 60_000


def at(day, hour, minute=0):
    return int(datetime(day.year, day.month, day.day, hour, minute, tzinfo=LONDON).timestamp() * 1000)


def sheet(first, days):
    return sheet_of(LONDON, (at(first, 0), at(first + timedelta(days=days), 0)))


def life(*instants):
    return np.array(sorted(instants), np.int64)


def test_each_day_shows_its_own():
    """06:30 is minute 390 of the row; three signs within five minutes are darker than one."""
    seen = Seen(life(at(MONDAY, 6, 30), *(at(MONDAY + timedelta(1), 21) + each for each in (0, 1000, 2000))))
    first, second = day_drawings(sheet(MONDAY, 2), seen)
    assert stretches(first, "ink-1") == [(390, 395, 0.5)]
    assert stretches(second, "ink-2") == [(1260, 1265, 0.5)]
    assert stretches(first, "ink-2") == stretches(second, "ink-1") == []


def test_a_night_over_midnight_is_in_both_days():
    tuesday = MONDAY + timedelta(1)
    first, second = day_drawings(sheet(MONDAY, 2), Seen(life(), nights=[(at(MONDAY, 22, 30), at(tuesday, 6, 30))]))
    assert stretches(first, "night") == [(1350, 1440, 0.5)]
    assert stretches(second, "night") == [(0, 390, 0.5)]


def test_out_is_at_the_foot_and_lost_at_the_top():
    seen = Seen(life(), outings=[(at(MONDAY, 9), at(MONDAY, 11))], outages=[(at(MONDAY, 10), at(MONDAY, 12))])
    (drawing,) = day_drawings(sheet(MONDAY, 1), seen)
    ((left, right, low),) = stretches(drawing, "outing")
    ((begin, end, high),) = stretches(drawing, "outage")
    assert (left, right, begin, end) == (540, 660, 600, 720)
    assert high < 0.2
    assert low > 0.8


def test_quiet_beyond_a_limit_is_ruled_through_so_that_colour_is_not_needed():
    (drawing,) = day_drawings(sheet(MONDAY, 1), Seen(life(), quiet=[(at(MONDAY, 13), at(MONDAY, 15))]))
    assert stretches(drawing, "quiet") == stretches(drawing, "beyond") == [(780, 900, 0.5)]


def test_the_skipped_hour_stays_empty():
    day = date(2026, 3, 29)
    every = np.arange(at(day, 0), at(day + timedelta(1), 0), 5 * MINUTE_MS, dtype=np.int64)
    (drawing,) = day_drawings(sheet(day, 1), Seen(every))
    assert [(left, right) for left, right, _ in stretches(drawing, "ink-1")] == [(0, 60), (120, 1440)]


def test_marks_stand_at_their_hour_and_say_what_they_are():
    marks = [Marked(at(MONDAY, 18), 0, "18:00 <b>"), Marked(at(MONDAY, 6), 2, "a drill", hollow=True)]
    (drawing,) = day_drawings(sheet(MONDAY, 1), Seen(life(), marks=marks))
    placed = {each.get("x"): each for each in read(drawing) if each.get("overflow")}
    assert set(placed) == {"75%", "25%"}
    assert "".join(placed["75%"].itertext()) == "18:00 <b>"
    assert "hollow" in placed["25%"][0].get("class")


def test_many_days_are_one_drawing_with_a_mark_a_day_for_each_kind():
    days = 200
    marks = [Marked(at(MONDAY, hour), 0, f"{hour}:00") for hour in (3, 4, 5)]
    marks.append(Marked(at(MONDAY + timedelta(199), 12), 1, "noon"))
    drawing = whole_drawing(sheet(MONDAY, days), Seen(life(at(MONDAY + timedelta(100), 6)), marks=marks))
    assert stretches(drawing, "ink-1") == [(360, 375, 100.5)]
    placed = [each for each in read(drawing) if each.get("overflow")]
    assert [(each.get("x"), each.get("y")) for each in placed] == [("12.5%", "0.25%"), ("50%", "99.75%")]


def test_a_year_of_a_busy_home_stays_light():
    """A sign a minute through every waking hour of a year, a third of them kept by lot: below 100 kB."""
    day = np.arange(420, 1320, dtype=np.int64) * MINUTE_MS
    starts = np.array([at(MONDAY + timedelta(number), 0) for number in range(365)], np.int64)
    rng = np.random.default_rng(7)
    every = (starts[:, None] + day[None, :]).ravel()
    some = every[rng.random(len(every)) < 0.3]
    assert len(whole_drawing(sheet(MONDAY, 365), Seen(some))) < 100_000


def test_months_are_named_and_lead_to_an_address():
    found = months(sheet(date(2025, 12, 20), 60))
    assert [(day.isoformat(), first, last) for day, first, last in found] == [
        ("2025-12-20", 0, 12),
        ("2026-01-01", 12, 43),
        ("2026-02-01", 43, 60),
    ]
    drawing = months_drawing(sheet(date(2025, 12, 20), 60), ["/a", "/b?x=1&y=2", "/c"])
    links = {each.get("href"): "".join(each.itertext()) for each in read(drawing)}
    assert links == {"/a": "Dec 2025", "/b?x=1&y=2": "Jan 2026", "/c": "Feb"}


@given(st.lists(st.integers(0, 7 * 24 * 3600 - 1), max_size=60))
def test_no_sign_of_life_is_lost(seconds):
    """Every sign lies under ink of its own day and minute, whatever the weight; local time by the standard library."""
    start = at(MONDAY, 0)
    instants = sorted({start + second * 1000 for second in seconds})
    drawings = day_drawings(sheet(MONDAY, 7), Seen(np.array(instants, np.int64)))
    for instant in instants:
        local = datetime.fromtimestamp(instant / 1000, UTC).astimezone(LONDON)
        minute = local.hour * 60 + local.minute
        row = drawings[(local.date() - MONDAY).days]
        inked = [one for weight in (1, 2, 3) for one in stretches(row, f"ink-{weight}")]
        assert any(left <= minute < right for left, right, _ in inked)


def test_without_anything_there_is_a_sheet_all_the_same():
    (drawing,) = day_drawings(sheet(MONDAY, 1), Seen(life()))
    assert classed(drawing, "hours")
    assert stretches(drawing, "ink-1") == []
