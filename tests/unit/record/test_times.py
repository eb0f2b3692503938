"""Times as logs write them. Expected instants by dateutil's zones, a general calendar library."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from dateutil import tz

from stillwell.record.times import clock_for, resolve

DAY = 86_400_000


def utc_ms(*moment):
    return round(datetime(*moment, tzinfo=UTC).timestamp() * 1000)


@pytest.mark.parametrize(
    ("written_as", "text", "expected"),
    [
        ("%Y-%m-%dT%H:%M:%S.%f", "2017-01-16T17:49:25.864", utc_ms(2017, 1, 16, 17, 49, 25) + 864),
        ("%Y-%m-%d %H:%M:%S.%f", "2016-07-12 00:00:30.600670", utc_ms(2016, 7, 12, 0, 0, 30) + 600),
        ("%Y-%m-%d %H:%M:%S.%f", "2016-07-12 00:00:30.999999", utc_ms(2016, 7, 12, 0, 0, 30) + 999),
        ("%Y-%m-%d %H:%M:%S.%f", "2016-07-12 00:00:30.5", utc_ms(2016, 7, 12, 0, 0, 30) + 500),
        ("%Y-%m-%d %H:%M:%S,%f", "2016-07-12 00:00:30,25", utc_ms(2016, 7, 12, 0, 0, 30) + 250),
        ("%d-%b-%Y %H:%M:%S", "25-Feb-2008 00:20:14", utc_ms(2008, 2, 25, 0, 20, 14)),
        ("%Y-%m-%d %H:%M:%S", "2012-1-2 9:05:01", utc_ms(2012, 1, 2, 9, 5, 1)),
        ("%m/%d/%Y %I:%M %p", "02/25/2008 11:20 PM", utc_ms(2008, 2, 25, 23, 20)),
        ("%H:%M:%S %d.%m.%Y", "07:30:00 01.03.2017", utc_ms(2017, 3, 1, 7, 30)),
        ("%Y%m%d", "20170301", utc_ms(2017, 3, 1)),
        ("ISO 8601", "2017-03-01T07:30:00.250", utc_ms(2017, 3, 1, 7, 30) + 250),
        ("ISO 8601 with offset", "2017-03-01T07:30:00+02:00", utc_ms(2017, 3, 1, 5, 30)),
        ("ISO 8601 with offset", "2017-03-01T07:30:00Z", utc_ms(2017, 3, 1, 7, 30)),
        ("%Y-%m-%d %H:%M:%S%z", "2017-03-01 07:30:00+0200", utc_ms(2017, 3, 1, 5, 30)),
        ("epoch seconds", "1050721741", 1_050_721_741_000),
        ("epoch seconds", "1050721741.0625", 1_050_721_741_062),
        ("epoch milliseconds", "1050721741062", 1_050_721_741_062),
        ("epoch seconds of the local clock", "1050721741", 1_050_721_741_000),
    ],
)
def test_a_time_is_read_to_the_millisecond(written_as, text, expected):
    clock = clock_for(written_as)
    assert clock.read(text) == expected
    assert clock.read(text) == expected  # remembered


@pytest.mark.parametrize(
    ("written_as", "text"),
    [
        ("%Y-%m-%d %H:%M:%S", "2017-03-01 24:00:00"),
        ("%Y-%m-%d %H:%M:%S", "2017-03-01 23:60:00"),
        ("%Y-%m-%d %H:%M:%S", "2017-02-29 23:00:00"),
        ("%Y-%m-%d %H:%M:%S", "2017-02-28 23:00:00.5"),
        ("%Y-%m-%d %H:%M:%S", "2017-02-28T23:00:00"),
        ("%Y-%m-%d %H:%M:%S", ""),
        ("%Y-%m-%d %H:%M:%S", "1969-12-31 23:00:00"),
        ("%Y-%m-%d %H:%M:%S", "2200-01-01 00:00:00"),
        ("%Y-%m-%d %H:%M:%S.%f", "2017-02-28 23:00:00"),
        ("%Y-%m-%d %H:%M:%S.%f", "2017-02-28 23:00:00."),
        ("%Y-%m-%d %H:%M:%S.%f", "2017-02-28 23:00:00.1234567"),
        ("%Y-%m-%d %H:%M:%S.%f", "2017-02-28 23:00:00.x"),
        ("ISO 8601", "2017-03-01T07:30:00Z"),
        ("ISO 8601", "today"),
        ("ISO 8601 with offset", "2017-03-01T07:30:00"),
        ("epoch seconds", "-5"),
        ("epoch seconds", "1.5e9"),
        ("epoch seconds", "10_000"),
        ("epoch seconds", "99999999999"),
        ("epoch milliseconds", "12.5"),
    ],
)
def test_any_other_text_is_no_time(written_as, text):
    read = clock_for(written_as).read
    read_good = {"%Y-%m-%d %H:%M:%S": "2017-02-28 23:00:00", "%Y-%m-%d %H:%M:%S.%f": "2017-02-28 23:00:00.5"}
    if written_as in read_good:  # what is remembered of good times lets no bad one through
        read(read_good[written_as])
    with pytest.raises(ValueError, match=r"."):
        read(text)


@pytest.mark.parametrize("pattern", ["", "hello", "%H:%M:%S", "%d %b", "%Y", "%"])
def test_a_pattern_must_fix_a_date(pattern):
    with pytest.raises(ValueError, match=r"^"):
        clock_for(pattern)


def local(*moment):
    return utc_ms(*moment)


def test_ordinary_times_agree_with_another_calendar_library():
    zone = tz.gettz("Europe/Paris")
    moments = [(2017, month, day, hour, 30) for month in (1, 3, 4, 7, 10, 11) for day in (5, 28) for hour in (0, 5, 23)]
    found = resolve(ZoneInfo("Europe/Paris"), np.array([local(*moment) for moment in moments]))
    expected = [round(datetime(*moment, tzinfo=zone).timestamp() * 1000) for moment in moments]
    assert found.times.tolist() == expected
    assert (found.skipped, found.repeated) == (0, 0)


def test_a_skipped_time_is_the_first_instant_after_the_gap():
    rows = [(2017, 3, 26, 1, 59, 59), (2017, 3, 26, 2, 0), (2017, 3, 26, 2, 30), (2017, 3, 26, 3, 0)]
    found = resolve(ZoneInfo("Europe/Paris"), np.array([local(*row) for row in rows]))
    after = utc_ms(2017, 3, 26, 1)
    assert found.times.tolist() == [after - 1000, after, after, after]
    assert found.skipped == 2


def test_a_repeated_hour_is_told_apart_by_the_order_of_the_rows():
    rows = [(1, 50), (2, 10), (2, 50), (2, 5), (2, 40), (3, 0)]
    found = resolve(ZoneInfo("Europe/Paris"), np.array([local(2017, 10, 29, *row) for row in rows]))
    first = utc_ms(2017, 10, 29, 0)  # 02:00 summer time
    minutes = [-10, 10, 50, 65, 100, 120]
    assert found.times.tolist() == [first + minute * 60_000 for minute in minutes]
    assert (found.skipped, found.repeated) == (0, 4)


def test_a_row_in_a_repeated_hour_that_stands_first_is_the_first_of_the_two():
    found = resolve(ZoneInfo("Europe/Paris"), np.array([local(2017, 10, 29, 2, 30)]))
    assert found.times.tolist() == [utc_ms(2017, 10, 29, 0, 30)]


def test_an_end_in_a_repeated_hour_comes_after_its_start():
    ends = np.array([local(2017, 10, 29, 2, 30)] * 2)
    starts = np.array([utc_ms(2017, 10, 29, 0, 10), utc_ms(2017, 10, 29, 0, 40)])
    found = resolve(ZoneInfo("Europe/Paris"), ends, not_before=starts)
    assert found.times.tolist() == [utc_ms(2017, 10, 29, 0, 30), utc_ms(2017, 10, 29, 1, 30)]
