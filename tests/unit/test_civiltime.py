"""Names of zones, wall times and instants, local hours, days and weeks.

Where the clocks change is public: in the EU and the UK at 01:00 UTC on the last Sundays of March and October
(directive 2000/84/EC), so on 29 March and 25 October in 2026. The expected instants follow from that by hand.
"""

import subprocess
import sys
from datetime import UTC, date, datetime, timedelta

import pytest

from stillwell.civiltime import (
    HomeTime,
    LocalReader,
    Span,
    day_edges,
    dst_weeks,
    find_zone,
    hour_edges,
    instants_of_local,
    local_datetime,
    local_instant,
    local_text,
    nearest_zone_names,
    offset_ms,
    ordinary_week,
    transitions,
    week_of,
    weekday_spans,
)

pytestmark = pytest.mark.base

HOUR_MS = 3_600_000


def zone(name):
    found = find_zone(name)
    assert found is not None
    return found


def at(text: str) -> int:
    """Instant of "2026-03-29 01:00" UTC."""
    return int(datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp() * 1000)


def span(text: str) -> Span:
    """Span of "2026-03-29 01:00/2026-03-29 02:00" UTC."""
    begin, until = text.split("/")
    return at(begin), at(until)


def local(text: str) -> datetime:
    return datetime.fromisoformat(text)


LONDON = zone("Europe/London")
LONDON_HOME = HomeTime(LONDON)


@pytest.mark.parametrize(
    "name",
    [
        *("", " ", "Europe", "europe/london", "Europe/Atlantis", "Europe/London\0", "x" * 5000, "\ud800"),
        *("../etc/passwd", "/etc/passwd", "Europe/../UTC", "tzdata.zi"),
        *("localtime", "Factory", "right/Europe/London"),
    ],
)
def test_what_is_no_zone_is_not_found_and_raises_nothing(name):
    assert find_zone(name) is None


@pytest.mark.parametrize(
    ("meant", "name"),
    [
        ("europe/london", "Europe/London"),
        ("Europe/Lodnon", "Europe/London"),
        ("london", "Europe/London"),
        ("new york", "America/New_York"),
        ("Amsterdam ", "Europe/Amsterdam"),
        ("Syndey", "Australia/Sydney"),
    ],
)
def test_a_misspelt_zone_is_recognised(meant, name):
    assert nearest_zone_names(meant)[0] == name


def test_only_a_few_known_names_are_offered_and_none_for_nonsense():
    assert nearest_zone_names("qqqqqqq") == []
    offered = nearest_zone_names("Europe/Ber", count=2)
    assert 1 <= len(offered) <= 2
    assert all(find_zone(name) for name in offered)


@pytest.mark.parametrize(
    ("day", "minute", "edge", "expected"),
    [
        (date(2026, 3, 29), 30, "start", "2026-03-29 00:30"),
        (date(2026, 3, 29), 60, "start", "2026-03-29 01:00"),  # 01:00 to 02:00 is skipped
        (date(2026, 3, 29), 90, "start", "2026-03-29 01:00"),
        (date(2026, 3, 29), 90, "end", "2026-03-29 01:00"),
        (date(2026, 3, 29), 90, "once", "2026-03-29 01:00"),
        (date(2026, 3, 29), 119, "once", "2026-03-29 01:00"),
        (date(2026, 3, 29), 120, "once", "2026-03-29 01:00"),
        (date(2026, 3, 29), 121, "once", "2026-03-29 01:01"),
        (date(2026, 10, 25), 59, "end", "2026-10-24 23:59"),
        (date(2026, 10, 25), 60, "start", "2026-10-25 00:00"),  # 01:00 to 02:00 is repeated
        (date(2026, 10, 25), 90, "start", "2026-10-25 00:30"),
        (date(2026, 10, 25), 90, "once", "2026-10-25 00:30"),
        (date(2026, 10, 25), 90, "end", "2026-10-25 01:30"),
        (date(2026, 10, 25), 120, "start", "2026-10-25 02:00"),
        (date(2026, 10, 25), 120, "end", "2026-10-25 02:00"),
    ],
)
def test_london_edges_on_the_days_the_clocks_change(day, minute, edge, expected):
    assert local_instant(LONDON, day, minute, edge) == at(expected)


def test_a_local_time_has_no_one_or_two_instants():
    assert instants_of_local(LONDON, local("2026-03-29 01:30")) == ()
    assert instants_of_local(LONDON, local("2026-03-29 00:59:59.999999")) == (at("2026-03-29 01:00") - 1,)
    assert instants_of_local(LONDON, local("2026-07-01 12:00:00.250000")) == (at("2026-07-01 11:00") + 250,)
    assert instants_of_local(LONDON, local("2026-10-25 01:30")) == (
        at("2026-10-25 00:30"),
        at("2026-10-25 01:30"),
    )
    assert instants_of_local(LONDON, local("2026-10-25 02:00")) == (at("2026-10-25 02:00"),)


def test_the_reader_of_logs_agrees_row_by_row_and_in_any_order():
    reader = LocalReader(LONDON)
    rows = [local("2026-03-28 22:00") + timedelta(minutes=7 * step) for step in range(60)]
    rows += [local("2026-10-24 22:00") + timedelta(minutes=7 * step) for step in range(60)]
    rows += [local("0001-01-01 00:00"), local("9999-12-31 23:59"), local("1847-12-01 00:00")]
    for row in rows + rows[::-1] + rows[::11]:
        assert reader.instants(row) == instants_of_local(LONDON, row)


def test_local_text_shows_milliseconds_only_where_there_are_any():
    assert local_text(LONDON, at("2026-03-29 00:59:59")) == "2026-03-29 00:59:59"
    assert local_text(LONDON, at("2026-03-29 01:00")) == "2026-03-29 02:00:00"
    assert local_text(LONDON, at("2026-03-29 01:00") + 250) == "2026-03-29 02:00:00.250"
    assert local_text(LONDON, -1) == "1970-01-01 00:59:59.999"  # the UK kept summer time all that winter


def test_local_datetime_knows_which_of_two_repeated_hours_it_is():
    first, second = (local_datetime(LONDON, instant) for instant in span("2026-10-25 00:30/2026-10-25 01:30"))
    assert first.replace(tzinfo=None, fold=0) == second.replace(tzinfo=None, fold=0)
    assert (first.fold, second.fold) == (0, 1)


def test_transitions_are_exact_and_the_first_piece_starts_with_the_span():
    year = span("2026-01-01 12:34:56/2027-01-01 00:00")
    assert transitions(LONDON, year) == [
        (year[0], 0),
        (at("2026-03-29 01:00"), HOUR_MS),
        (at("2026-10-25 01:00"), 0),
    ]
    begin = at("2026-03-29 01:00")
    assert transitions(LONDON, (begin - 1, begin)) == [(begin - 1, 0)]
    assert transitions(LONDON, (begin - 1, begin + 1)) == [(begin - 1, 0), (begin, HOUR_MS)]
    assert transitions(LONDON, (begin, begin)) == [(begin, HOUR_MS)]
    assert (offset_ms(LONDON, begin - 1), offset_ms(LONDON, begin)) == (0, HOUR_MS)


def test_weekdays_are_as_long_as_the_clocks_make_them():
    saturday_sunday = weekday_spans(LONDON_HOME, frozenset({5, 6}), span("2026-03-23 00:00/2026-04-06 00:00"))
    assert saturday_sunday == [
        span("2026-03-28 00:00/2026-03-29 23:00"),
        span("2026-04-03 23:00/2026-04-05 23:00"),
    ]
    sunday = weekday_spans(LONDON_HOME, frozenset({6}), span("2026-10-20 00:00/2026-10-28 00:00"))
    assert sunday == [span("2026-10-24 23:00/2026-10-26 00:00")]
    everyday = span("2026-03-20 12:00/2026-11-20 12:00")
    assert weekday_spans(LONDON_HOME, frozenset(range(7)), everyday) == [everyday]
    assert weekday_spans(LONDON_HOME, frozenset(), everyday) == []


def test_a_day_without_midnight_starts_at_one():
    # Egypt: clocks go forward at 00:00 on the last Friday of April (IANA), 24 April in 2026.
    cairo = zone("Africa/Cairo")
    friday = weekday_spans(HomeTime(cairo), frozenset({4}), span("2026-04-23 00:00/2026-04-26 00:00"))
    assert friday == [span("2026-04-23 22:00/2026-04-24 21:00")]
    assert local_text(cairo, friday[0][0]) == "2026-04-24 01:00:00"
    assert local_instant(cairo, date(2026, 4, 24), 0, "once") == friday[0][0]


def test_hours_around_a_change_by_half_an_hour():
    # Lord Howe: UTC+10:30 to UTC+11 and back at 02:00 local on the first Sundays of October and April (IANA).
    lord_howe = zone("Australia/Lord_Howe")
    forward = hour_edges(lord_howe, span("2026-10-03 14:30/2026-10-03 17:00"))
    assert forward == [
        (at("2026-10-03 14:30"), 1),
        (at("2026-10-03 15:30"), 2),  # the wall clock springs from 02:00 to 02:30
        (at("2026-10-03 16:00"), 3),
    ]
    back = hour_edges(lord_howe, span("2026-04-04 14:00/2026-04-04 16:00"))
    assert back == [
        (at("2026-04-04 14:00"), 1),
        (at("2026-04-04 15:00"), 1),  # from 02:00 back to 01:30
        (at("2026-04-04 15:30"), 2),
    ]


def test_hours_of_the_short_and_the_long_day():
    (short,) = weekday_spans(LONDON_HOME, frozenset({6}), span("2026-03-28 12:00/2026-03-30 12:00"))
    assert [hour for _, hour in hour_edges(LONDON, short)] == [0, *range(2, 24)]
    (long,) = weekday_spans(LONDON_HOME, frozenset({6}), span("2026-10-24 12:00/2026-10-26 12:00"))
    assert [hour for _, hour in hour_edges(LONDON, long)] == [0, 1, 1, *range(2, 24)]
    ((first, hour), (second, _)) = hour_edges(LONDON, span("2026-07-01 10:20/2026-07-01 11:20"))
    assert (first, hour, second) == (at("2026-07-01 10:20"), 11, at("2026-07-01 11:00"))


def test_local_days_are_listed_with_their_starts():
    assert day_edges(LONDON, span("2026-03-28 12:00/2026-03-30 12:00")) == [
        (at("2026-03-28 12:00"), date(2026, 3, 28)),
        (at("2026-03-29 00:00"), date(2026, 3, 29)),
        (at("2026-03-29 23:00"), date(2026, 3, 30)),
    ]


def test_a_local_week_runs_from_monday_to_monday():
    assert [week_of(LONDON, date(2026, 3, 23))] == [span("2026-03-23 00:00/2026-03-29 23:00")]
    with pytest.raises(ValueError, match="not a Monday"):
        week_of(LONDON, date(2026, 3, 24))


def test_the_weeks_in_which_the_clocks_change():
    assert dst_weeks(LONDON, 2026) == [
        span("2026-03-23 00:00/2026-03-29 23:00"),
        span("2026-10-18 23:00/2026-10-26 00:00"),
    ]
    assert dst_weeks(zone("Asia/Kolkata"), 2026) == []
    # Nepal moved from UTC+5:30 to UTC+5:45 at the first instant of 1986, a Wednesday (IANA).
    assert dst_weeks(zone("Asia/Kathmandu"), 1986) == [span("1985-12-29 18:30/1986-01-05 18:15")]
    assert dst_weeks(zone("Asia/Kathmandu"), 1985) == []
    hours = [(until - begin) // HOUR_MS for begin, until in dst_weeks(zone("Australia/Sydney"), 2026)]
    assert hours == [169, 167]  # April, October


@pytest.mark.parametrize("name", ["Europe/London", "Africa/Casablanca", "Asia/Kolkata", "Pacific/Apia"])
@pytest.mark.parametrize("year", [2011, 2026])
def test_an_ordinary_week_lies_in_the_year_and_has_168_hours(name, year):
    begin, until = ordinary_week(zone(name), year)
    assert until - begin == 168 * HOUR_MS
    assert len(transitions(zone(name), (begin - 1, until + 1))) == 1
    monday = local_datetime(zone(name), begin)
    assert (monday.year, monday.weekday(), monday.hour, monday.minute) == (year, 0, 0, 0)


def test_the_small_keeper_can_use_it_without_numpy():
    code = "import sys, stillwell.civiltime; sys.exit('numpy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
