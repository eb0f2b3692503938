"""Places on the sheet of days. Clock changes of 2026 in Britain: forward on 29 March, back on 25 October, at 01:00 UTC
(Summer Time Order 2002), so that those days have 23 and 25 hours."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stillwell.charts.days import CELL_MS, DAY_MS, HOUR_MS, change_times, ink, place, sheet_of, strips
from stillwell.record.columns import Pulses, Steps

LONDON = ZoneInfo("Europe/London")
MARCH, OCTOBER = date(2026, 3, 29), date(2026, 10, 25)


def midnight(day):
    """The start of a local day, in ms UTC, as the standard library has it."""
    return int(datetime(day.year, day.month, day.day, tzinfo=LONDON).timestamp() * 1000)


def days(first, count):
    return sheet_of(LONDON, (midnight(first), midnight(first + timedelta(days=count))))


def every_five_minutes(sheet):
    return np.arange(sheet.span[0], sheet.span[1], CELL_MS, dtype=np.int64)


@pytest.mark.parametrize(
    ("day", "hours"),
    [
        (date(2026, 1, 5), [(0, 24)]),
        (MARCH, [(0, 1), (2, 24)]),  # the hour from 01:00 on was skipped
        (OCTOBER, [(0, 24)]),  # the hour from 01:00 on was there twice, in one place
    ],
)
def test_a_day_full_of_life_is_full_of_ink_but_for_a_skipped_hour(day, hours):
    sheet = days(day, 1)
    found = ink(sheet, every_five_minutes(sheet), (1,))
    assert [(strip.row, strip.left, strip.right) for strip in found] == [(0, left, right) for left, right in hours]


def test_an_hour_that_comes_twice_has_both_its_times_in_one_place():
    sheet = days(OCTOBER, 1)
    found = ink(sheet, every_five_minutes(sheet), (1, 2))
    assert [(strip.left, strip.right) for strip in found if strip.weight == 1] == [(1, 2)]


def test_weights_go_by_what_falls_into_five_minutes():
    sheet = days(date(2026, 1, 5), 1)
    minutes = [0, 5, 6, 10, 11, 12, 13, 14, 60]
    found = ink(sheet, sheet.span[0] + np.array(minutes, np.int64) * 60_000, (1, 2, 5))
    assert [(round(strip.left * 60), round(strip.right * 60), strip.weight) for strip in found] == [
        (0, 5, 0),
        (5, 10, 1),
        (10, 15, 2),
        (60, 65, 0),
    ]


def test_ink_breaks_at_midnight():
    sheet = days(date(2026, 1, 5), 2)
    found = ink(sheet, every_five_minutes(sheet), (1,))
    assert [(strip.row, strip.left, strip.right) for strip in found] == [(0, 0, 24), (1, 0, 24)]


def test_no_life_is_no_ink():
    assert ink(days(MARCH, 1), np.empty(0, np.int64), (1,)) == []


@pytest.mark.parametrize(
    ("day", "cut"),
    [
        (MARCH, [(0, 0, 1), (0, 2, 24), (1, 0, 24)]),
        (OCTOBER, [(0, 0, 2), (0, 1, 24), (1, 0, 24)]),
    ],
)
def test_a_gap_over_a_change_of_the_clocks_is_cut_there(day, cut):
    sheet = days(day, 2)
    assert [(strip.row, strip.left, strip.right) for strip in strips(sheet, *sheet.span)] == cut


@given(st.integers(0, 3 * DAY_MS), st.integers(0, 3 * DAY_MS))
def test_a_gap_keeps_its_length_and_its_ends(start, length):
    sheet = days(date(2026, 3, 28), 7)
    start_ms = sheet.span[0] + start
    found = list(strips(sheet, start_ms, start_ms + length))
    assert sum(strip.right - strip.left for strip in found) * HOUR_MS == pytest.approx(length, abs=1)
    assert all(0 <= strip.left < strip.right <= 24 for strip in found)
    if length:
        assert (found[0].row, found[0].left) == pytest.approx(place(sheet, start_ms))


@given(st.integers(0, 300 * DAY_MS))
def test_an_instant_has_the_place_that_the_clock_shows(offset):
    """Judged by the standard library."""
    sheet = days(date(2026, 1, 1), 365)
    at_ms = sheet.span[0] + offset
    local = datetime.fromtimestamp(at_ms / 1000, UTC).astimezone(LONDON)
    row, hour = place(sheet, at_ms)
    assert row == (local.date() - date(2026, 1, 1)).days
    since = timedelta(hours=local.hour, minutes=local.minute, seconds=local.second, microseconds=local.microsecond)
    assert hour == pytest.approx(since / timedelta(hours=1), abs=1e-6)


def test_a_level_that_repeats_itself_says_nothing_new():
    level = Steps(np.array([1, 2, 3, 4, 5]), np.array([0, 0, 2, 2, 0], np.int8))
    assert change_times({"a": level, "b": Pulses(np.array([2, 6]))}, ["a", "b"]).tolist() == [1, 2, 3, 5, 6]
