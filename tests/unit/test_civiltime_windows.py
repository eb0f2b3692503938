"""Windows and moments of the local day, by the clock and by the sun.

The clocks of London change at 01:00 UTC on 29 March and 25 October 2026 (the last Sundays of the two months,
directive 2000/84/EC); the expected instants follow from that by hand.
"""

from datetime import UTC, date, datetime
from itertools import pairwise

import pytest

from stillwell.civiltime import (
    ClockTime,
    HomeTime,
    Position,
    Span,
    SunTime,
    TimeOfDay,
    day_edges,
    find_zone,
    hour_edges,
    last_sun_event,
    local_text,
    occurrences,
    sun_events,
    weekday_spans,
    window,
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


def clock(text: str) -> ClockTime:
    return ClockTime(int(text[:2]) * 60 + int(text[3:]))


LONDON = zone("Europe/London")
LONDON_HOME = HomeTime(LONDON, Position(51.47, 0.0))
TROMSO_HOME = HomeTime(zone("Europe/Oslo"), Position(69.65, 18.96))
SUNSET, SUNRISE = SunTime("sunset"), SunTime("sunrise")


@pytest.mark.parametrize(
    ("start", "end", "looked_at", "expected"),
    [
        # ordinary days, in winter and in summer; cut at both ends of the span
        ("22:00", "07:00", "2026-01-05 00:00/2026-01-06 00:00",
         ["2026-01-05 00:00/2026-01-05 07:00", "2026-01-05 22:00/2026-01-06 00:00"]),
        ("09:00", "17:30", "2026-07-01 00:00/2026-07-03 00:00",
         ["2026-07-01 08:00/2026-07-01 16:30", "2026-07-02 08:00/2026-07-02 16:30"]),
        # the same time twice is the whole day; midnight as an end
        ("08:00", "08:00", "2026-03-28 00:00/2026-03-31 00:00", ["2026-03-28 00:00/2026-03-31 00:00"]),
        ("22:00", "00:00", "2026-01-05 12:00/2026-01-06 12:00", ["2026-01-05 22:00/2026-01-06 00:00"]),
        # the night the clocks go forward is 8 h long, the night they go back 10 h
        ("22:00", "07:00", "2026-03-28 12:00/2026-03-29 12:00", ["2026-03-28 22:00/2026-03-29 06:00"]),
        ("22:00", "07:00", "2026-10-24 12:00/2026-10-25 12:00", ["2026-10-24 21:00/2026-10-25 07:00"]),
        # wholly in the skipped hour; with one edge in it
        ("01:15", "01:45", "2026-03-29 00:00/2026-03-29 23:00", []),
        ("01:30", "03:00", "2026-03-29 00:00/2026-03-29 23:00", ["2026-03-29 01:00/2026-03-29 02:00"]),
        ("00:30", "01:30", "2026-03-29 00:00/2026-03-29 23:00", ["2026-03-29 00:30/2026-03-29 01:00"]),
        # wholly in the repeated hour: from the first 01:15 to the second 01:45
        ("01:15", "01:45", "2026-10-25 00:00/2026-10-25 23:00", ["2026-10-25 00:15/2026-10-25 01:45"]),
        ("23:00", "01:30", "2026-10-24 12:00/2026-10-25 12:00", ["2026-10-24 22:00/2026-10-25 01:30"]),
        ("01:30", "03:00", "2026-10-25 00:00/2026-10-25 23:00", ["2026-10-25 00:30/2026-10-25 03:00"]),
    ],
)  # fmt: skip
def test_clock_windows_in_london(start, end, looked_at, expected):
    found = window(LONDON_HOME, clock(start), clock(end), span(looked_at))
    assert found == [span(each) for each in expected]


def test_an_empty_span_has_no_windows():
    noon = at("2026-07-01 12:00")
    assert window(LONDON_HOME, clock("00:00"), clock("23:00"), (noon, noon)) == []
    assert window(LONDON_HOME, SUNRISE, SUNSET, (noon, noon)) == []
    assert weekday_spans(LONDON_HOME, frozenset(range(7)), (noon, noon)) == []
    assert hour_edges(LONDON, (noon, noon)) == []


@pytest.mark.parametrize("minute", [-1, 1440])
def test_a_minute_outside_the_day_is_refused(minute):
    with pytest.raises(ValueError, match="0 to 1439"):
        ClockTime(minute)


def test_a_window_that_began_just_before_the_clocks_went_back_over_midnight():
    # St. John's changed at 00:01 until 2011 (IANA): on 7 November 2010 from 00:01 NDT, UTC-2:30, back to 23:01 NST,
    # UTC-3:30, of the 6th, at 02:31 UTC.
    st_johns = HomeTime(zone("America/St_Johns"), Position(47.56, -52.71))
    second_evening = span("2010-11-07 02:40/2010-11-07 03:00")
    assert window(st_johns, clock("00:00"), clock("01:00"), second_evening) == [second_evening]
    assert weekday_spans(st_johns, frozenset({6}), span("2010-11-07 02:00/2010-11-07 04:00")) == [
        span("2010-11-07 02:30/2010-11-07 02:31"),
        span("2010-11-07 03:30/2010-11-07 04:00"),
    ]
    assert [day.day for _, day in day_edges(st_johns.zone, span("2010-11-07 02:00/2010-11-07 04:00"))] == [6, 7, 6, 7]
    # While the 7th has begun for its one minute, the second 23:45 of the 6th is still to come.
    minute = span("2010-11-07 02:30/2010-11-07 02:31")
    assert window(st_johns, SUNSET, clock("23:45"), minute) == [minute]


def test_a_daily_moment_comes_once_a_day_also_when_the_clocks_change():
    spring = span("2026-03-28 00:00/2026-03-31 00:00")
    assert occurrences(LONDON_HOME, clock("01:30"), spring) == [
        at("2026-03-28 01:30"),
        at("2026-03-29 01:00"),
        at("2026-03-30 00:30"),
    ]
    autumn = span("2026-10-24 00:00/2026-10-27 00:00")
    assert occurrences(LONDON_HOME, clock("01:30"), autumn) == [
        at("2026-10-24 00:30"),
        at("2026-10-25 00:30"),
        at("2026-10-26 01:30"),
    ]


def test_a_moment_at_the_start_of_the_span_counts_and_one_at_its_end_does_not():
    assert occurrences(LONDON_HOME, clock("08:00"), span("2026-01-05 08:00/2026-01-06 08:00")) == [
        at("2026-01-05 08:00")
    ]


def test_a_date_that_samoa_left_out_has_no_moments_but_its_night_window_goes_on():
    # Samoa went from 29 December 2011, UTC-10, straight to 31 December, UTC+14, at 10:00 UTC on the 30th
    # (IANA).
    samoa = HomeTime(zone("Pacific/Apia"))
    change = at("2011-12-30 10:00")
    around = (change - 48 * HOUR_MS, change + 48 * HOUR_MS)
    local = [local_text(samoa.zone, instant) for instant in occurrences(samoa, clock("08:00"), around)]
    assert local == [
        "2011-12-28 08:00:00",
        "2011-12-29 08:00:00",
        "2011-12-31 08:00:00",
        "2012-01-01 08:00:00",
    ]
    nights = window(samoa, clock("22:00"), clock("07:00"), (change - 12 * HOUR_MS, change + 12 * HOUR_MS))
    assert nights == [(change - 2 * HOUR_MS, change + 7 * HOUR_MS)]
    assert [day for _, day in day_edges(samoa.zone, (change - HOUR_MS, change + HOUR_MS))] == [
        date(2011, 12, 29),
        date(2011, 12, 31),
    ]


def test_nights_lie_between_sunset_and_sunrise():
    looked_at = span("2026-06-01 12:00/2026-06-08 12:00")
    sets = sun_events(LONDON_HOME.position, "sunset", looked_at)
    rises = sun_events(LONDON_HOME.position, "sunrise", looked_at)
    assert len(sets) == len(rises) == 7
    assert window(LONDON_HOME, SUNSET, SUNRISE, looked_at) == list(zip(sets, rises, strict=True))


def test_offsets_move_the_edges_and_mix_with_the_clock():
    looked_at = span("2026-01-05 12:00/2026-01-07 12:00")
    sets = sun_events(LONDON_HOME.position, "sunset", looked_at)
    evenings = window(LONDON_HOME, SunTime("sunset", -30 * 60_000), clock("23:00"), looked_at)
    assert evenings == [
        (sets[0] - 30 * 60_000, at("2026-01-05 23:00")),
        (sets[1] - 30 * 60_000, at("2026-01-06 23:00")),
    ]
    assert occurrences(LONDON_HOME, SunTime("sunset", 90_000), looked_at) == [instant + 90_000 for instant in sets]


def test_a_window_already_open_when_the_span_begins_is_seen():
    night = span("2026-01-05 23:00/2026-01-05 23:30")
    noon = span("2026-01-05 12:00/2026-01-05 12:30")
    assert window(LONDON_HOME, SUNSET, SUNRISE, night) == [night]
    assert window(LONDON_HOME, SUNSET, SUNRISE, noon) == []


@pytest.mark.parametrize(
    ("start", "end"),
    [
        # Sunrise in London is near 03:43 UTC = 04:43 on 21 June, sunset near 20:21 UTC = 21:21.
        (clock("05:00"), SUNRISE),
        (SUNSET, clock("21:00")),
    ],
)
def test_a_clock_time_that_the_sun_has_overtaken_leaves_the_day_empty(start, end):
    assert window(LONDON_HOME, start, end, span("2026-06-19 12:00/2026-06-23 12:00")) == []


def test_a_clock_time_and_the_sun_belong_together_by_date():
    june = span("2026-06-20 12:00/2026-06-21 12:00")
    ((opened, closed),) = window(LONDON_HOME, SUNSET, clock("07:00"), june)
    assert opened == pytest.approx(at("2026-06-20 20:21"), abs=60_000)
    assert closed == at("2026-06-21 06:00")
    ((opened, closed),) = window(LONDON_HOME, clock("04:00"), SUNRISE, june)
    assert opened == at("2026-06-21 03:00")
    assert closed == pytest.approx(at("2026-06-21 03:43"), abs=60_000)


def test_in_polar_night_it_is_dark_and_in_midnight_sun_light_for_clock_windows_too():
    december, june = span("2026-12-01 00:00/2027-01-10 00:00"), span("2026-05-22 00:00/2026-07-22 00:00")
    noon = span("2026-12-20 11:00/2026-12-20 11:01")
    assert window(TROMSO_HOME, clock("16:00"), SUNRISE, december) != []
    assert window(TROMSO_HOME, SUNSET, clock("13:00"), noon) == [noon]
    assert window(TROMSO_HOME, SUNSET, clock("07:00"), june) == []
    assert window(TROMSO_HOME, clock("03:00"), SUNRISE, june) == []
    assert window(TROMSO_HOME, SUNRISE, clock("07:00"), december) == []


def test_the_same_sun_time_twice_is_the_whole_time():
    week = span("2026-01-05 00:00/2026-01-12 00:00")
    sunsets = sun_events(LONDON_HOME.position, "sunset", week)
    for looked_at in (week, (sunsets[0], sunsets[0] + 1), (sunsets[0] - 1, sunsets[0] + 1)):
        assert window(LONDON_HOME, SUNSET, SUNSET, looked_at) == [looked_at]


def test_polar_night_is_one_long_window_and_midnight_sun_none():
    # Tromso: no sunrise from about 27 November to 15 January, no sunset from about 18 May to 26 July (general
    # reference, to a day or two).
    december = span("2026-12-01 00:00/2027-01-10 00:00")
    june = span("2026-05-22 00:00/2026-07-22 00:00")
    assert window(TROMSO_HOME, SUNSET, SUNRISE, december) == [december]
    assert window(TROMSO_HOME, SUNRISE, SUNSET, december) == []
    assert window(TROMSO_HOME, SUNSET, SUNRISE, june) == []
    assert window(TROMSO_HOME, SUNRISE, SUNSET, june) == [june]
    assert occurrences(TROMSO_HOME, SUNSET, june) == occurrences(TROMSO_HOME, SUNRISE, december) == []


@pytest.mark.parametrize("latitude", [-90.0, -89.95, -70.0, 0.0, 51.5, 66.6, 69.65, 78.2, 90.0])
def test_sunrise_and_sunset_alternate_at_every_latitude(latitude):
    position = Position(latitude, 18.96)
    looked_at = span("2026-01-01 00:00/2029-01-01 00:00")
    events = sorted(
        (instant, event) for event in ("sunrise", "sunset") for instant in sun_events(position, event, looked_at)
    )
    assert len(events) >= 5
    assert all(first != second for (_, first), (_, second) in pairwise(events))
    assert last_sun_event(position, events[-1][1], looked_at[1]) == events[-1][0]
    assert last_sun_event(position, events[-2][1], events[-1][0]) == events[-2][0]
    assert last_sun_event(position, events[-1][1], events[-1][0]) == events[-1][0]


@pytest.mark.parametrize("longitude", [-180.0, -100.0, 101.95, 179.9])
def test_no_day_lacks_its_sunset_far_from_greenwich(longitude):
    # Between the tropics two sunsets are 24 h apart but for what the equation of time and the lengthening
    # day add or take: under a minute.
    sets = sun_events(Position(-20.0, longitude), "sunset", span("2026-01-01 00:00/2028-01-01 00:00"))
    assert len(sets) in (729, 730, 731)
    assert all(abs(later - earlier - 24 * HOUR_MS) < 60_000 for earlier, later in pairwise(sets))


@pytest.mark.parametrize(("start", "end"), [(SUNSET, clock("07:00")), (clock("07:00"), SUNSET)])
def test_the_sun_needs_a_position(start: TimeOfDay, end: TimeOfDay):
    with pytest.raises(ValueError, match="position"):
        window(HomeTime(LONDON), start, end, (0, HOUR_MS))
    with pytest.raises(ValueError, match="position"):
        occurrences(HomeTime(LONDON), SUNSET, (0, HOUR_MS))
