"""Sunrise and sunset against published almanac times.

Sources: the NREL Solar Position Algorithm and US Naval Observatory tables as kept in pvlib's tests
(test_spa.py); London 2015 as kept in astral's tests; Naval Observatory tables for the far north as quoted in
astral's issues 84 and 102. Tables to the minute carry half a minute of rounding. Simple formulas and the full
algorithm differ by 10 to 25 s, so the tolerance is 60 s.
"""

from datetime import UTC, date, datetime, timedelta, timezone

import pytest
from astral import Observer
from astral.sun import elevation, noon, sunrise, sunset

from stillwell.civiltime import Position, sun_events

pytestmark = pytest.mark.base

DAY_MS = 86_400_000
TOLERANCE_MS = 60_000
SOUTH, NORTH = (-35.0, 0.0, 0), (35.0, 0.0, 0)  # degrees north, degrees east, hours ahead of UTC
COLORADO, BEIJING, LONDON = (39.0, -105.0, -7), (39.917, 116.383, 8), (51.4733, -0.0008, 0)


def ms(moment: datetime) -> int:
    return round(moment.timestamp() * 1000)


@pytest.mark.parametrize(
    ("place", "day", "rise", "set_"),
    [
        (SOUTH, "1996-07-05", "07:08:15", "17:01:04"),  # NREL SPA
        (SOUTH, "2004-12-04", "04:38:57", "19:02:02"),  # NREL SPA
        (NORTH, "1994-01-02", "07:08:12", "16:59:55"),  # NREL SPA
        (COLORADO, "2015-01-02", "07:19", "16:49"),  # USNO
        (COLORADO, "2015-04-02", "05:43", "18:24"),  # USNO
        (COLORADO, "2015-08-02", "05:01", "19:10"),  # USNO
        (COLORADO, "2015-12-02", "07:01", "16:38"),  # USNO
        (BEIJING, "2015-01-02", "07:36", "17:00"),  # USNO
        (BEIJING, "2015-08-02", "05:13", "19:28"),  # USNO
        (LONDON, "2015-01-01", "08:06", "16:01"),
        (LONDON, "2015-12-01", "07:43", "15:55"),
        (LONDON, "2015-12-25", "08:05", "15:55"),
    ],
)
def test_published_sunrise_and_sunset(place, day, rise, set_):
    latitude, longitude, ahead_h = place
    local = timezone(timedelta(hours=ahead_h))
    midnight = ms(datetime.fromisoformat(day).replace(tzinfo=local))
    for event, text in (("sunrise", rise), ("sunset", set_)):
        expected = ms(datetime.fromisoformat(f"{day} {text}").replace(tzinfo=local))
        (found,) = sun_events(Position(latitude, longitude), event, (midnight, midnight + DAY_MS))
        assert abs(found - expected) <= TOLERANCE_MS


@pytest.mark.parametrize(
    ("latitude", "longitude", "event", "expected"),
    [
        # No sunset on one date, two on another.
        (
            83.6561,
            -33.3739,
            "sunset",
            "2022-09-09 01:24, 2022-09-10 00:39, 2022-09-11 00:08, 2022-09-11 23:44, 2022-09-12 23:22",
        ),
        (
            69.6492,
            18.9553,
            "sunrise",
            "2023-05-12 00:13, 2023-05-13 00:04, 2023-05-13 23:56, 2023-05-14 23:46, 2023-05-15 23:35",
        ),
        # Events that straddle 00:00 UTC.
        (-30.0, -100.0, "sunset", "2024-05-05 00:02, 2024-05-06 00:01, 2024-05-07 00:00, 2024-05-07 23:59"),
    ],
)
def test_naval_observatory_tables_where_dates_mislead(latitude, longitude, event, expected):
    instants = [ms(datetime.fromisoformat(text).replace(tzinfo=UTC)) for text in expected.split(", ")]
    found = sun_events(Position(latitude, longitude), event, (instants[0] - DAY_MS // 2, instants[-1] + DAY_MS // 2))
    assert len(found) == len(instants)
    assert all(abs(ours - theirs) <= TOLERANCE_MS for ours, theirs in zip(found, instants, strict=True))


@pytest.mark.parametrize("latitude", [-56, -30, 0, 40, 56])
@pytest.mark.parametrize("longitude", [-170, -75, 0, 120, 170])
def test_astral_agrees_between_the_polar_circles(latitude, longitude):
    # The same positions of the sun, another way to the crossing.
    solar = timezone(timedelta(minutes=4 * longitude))
    whole = (ms(datetime(2025, 12, 31, tzinfo=UTC)), ms(datetime(2027, 1, 2, tzinfo=UTC)))
    position, observer = Position(latitude, longitude), Observer(latitude, longitude)
    for event, theirs in (("sunrise", sunrise), ("sunset", sunset)):
        found = sun_events(position, event, whole)
        for step in range(0, 365, 13):
            expected = ms(theirs(observer, date(2026, 1, 1) + timedelta(days=step), solar))
            assert min(abs(instant - expected) for instant in found) <= TOLERANCE_MS


@pytest.mark.parametrize("latitude", [66.8, 68.0, 69.65, 71.2, 73.0, 74.5, 76.0, 78.2])
def test_the_sun_rises_on_the_days_on_which_it_clears_the_horizon_at_noon(latitude):
    # Also on those on which it is up for minutes only; astral says how high it stands at noon, without refraction.
    position, observer = Position(latitude, 18.96), Observer(latitude, 18.96)
    days = [date(2026, 10, 10) + timedelta(days=step) for step in range(130)]
    clear = 0
    for day in days:
        height_deg = elevation(observer, noon(observer, day), with_refraction=False)
        if abs(height_deg + 50 / 60) < 0.003:
            continue
        midday = ms(noon(observer, day))
        rises = sun_events(position, "sunrise", (midday - DAY_MS // 2, midday))
        assert len(rises) == (height_deg > -50 / 60)
        clear += 1
    assert clear >= len(days) - 1
