"""Sunrise and sunset: the instants at which the sun's height passes through the horizon.

The sun's place among the stars comes from astral (the formulas published by NOAA). When it rises and sets
is worked out here, because a search by calendar date loses events: near the polar circles two sunsets fall
on one date and none on another, and far from Greenwich an event near 00:00 UTC belongs to no date at all.

Here each half day between the sun's lowest and its highest point holds one crossing if the sun is up at one
end and down at the other, and none if not. So sunrises and sunsets alternate for ever, at every latitude,
and weeks of polar night or midnight sun are simply weeks without either.
"""

from dataclasses import dataclass
from functools import lru_cache
from math import acos, ceil, cos, degrees, radians, sin
from typing import Literal

from astral.sun import eq_of_time, sun_declination

from stillwell.civiltime.pieces import DAY_MS, Span

SunEvent = Literal["sunrise", "sunset"]

# The upper limb on a level horizon, seen through ordinary air: 34' of refraction and 16' of half-diameter,
# the figures of the almanacs. Hills, height above the sea and weather move the real moment by minutes.
_SIN_HORIZON = sin(radians(-50 / 60))
_HALF_DAY_MS = DAY_MS // 2
_MS_PER_DEGREE = DAY_MS // 360
# 2000-01-01 12:00, from which the sun's place is reckoned, in days since 1970-01-01 00:00.
_J2000_DAY = 10_957.5
_DAYS_PER_CENTURY = 36_525
# Even at a pole the sun rises and sets once in a year.
_LOOK_BACK_HALF_DAYS = 2 * 400


@dataclass(frozen=True, slots=True)
class Position:
    """A place on earth: degrees north of the equator (-90 to 90), degrees east of Greenwich (-180 to 180)."""

    latitude_deg: float
    longitude_deg: float


def sun_events(position: Position, event: SunEvent, span: Span) -> list[int]:
    """Every sunrise, or every sunset, in a span: instants in milliseconds UTC, on whole seconds, in order.

    About one a day; none in polar night and midnight sun. Within a minute of the almanacs, save on days when
    the sun barely touches the horizon.
    """
    first = _half_day(position, span[0]) - 1
    last = _half_day(position, span[1]) + 1
    found = []
    for half_day in range(first, last + 1):
        crossing = _crossing(position.latitude_deg, position.longitude_deg, half_day)
        if crossing and crossing[0] == event and span[0] <= crossing[1] < span[1]:
            found.append(crossing[1])
    return found


def last_sun_event(position: Position, event: SunEvent, at_ms: int) -> int | None:
    """The latest sunrise, or sunset, at or before an instant, be it months ago."""
    newest = _half_day(position, at_ms) + 1
    for half_day in range(newest, newest - _LOOK_BACK_HALF_DAYS, -1):
        crossing = _crossing(position.latitude_deg, position.longitude_deg, half_day)
        if crossing and crossing[0] == event and crossing[1] <= at_ms:
            return crossing[1]
    return None


def _half_day(position: Position, at_ms: int) -> int:
    """Half days of mean solar time since 1970-01-01; even ones begin at midnight, odd ones at noon."""
    return int(at_ms + position.longitude_deg * _MS_PER_DEGREE) // _HALF_DAY_MS


@lru_cache(maxsize=1 << 15)
def _crossing(latitude_deg: float, longitude_deg: float, half_day: int) -> tuple[SunEvent, int] | None:
    before_s = _turn_s(longitude_deg, half_day)
    after_s = _turn_s(longitude_deg, half_day + 1)
    rising = _is_up(latitude_deg, longitude_deg, after_s)
    if _is_up(latitude_deg, longitude_deg, before_s) == rising:
        return None
    guess_s = (before_s + after_s) // 2
    while after_s - before_s > 1:
        # where the sun of the last guess would cross; the middle where that lies outside of what is left
        guess_s = _crossing_near(latitude_deg, longitude_deg, guess_s, rising=rising)
        if not before_s < guess_s <= after_s:
            guess_s = (before_s + after_s + 1) // 2
        for edge_s in (guess_s, guess_s - 1):
            if before_s < edge_s < after_s:
                if _is_up(latitude_deg, longitude_deg, edge_s) == rising:
                    after_s = edge_s
                else:
                    before_s = edge_s
    return ("sunrise" if rising else "sunset"), after_s * 1000


def _turn_s(longitude_deg: float, half_day: int) -> int:
    """The second of the sun's lowest point (even half days) or highest (odd ones)."""
    mean_ms = half_day * _HALF_DAY_MS - longitude_deg * _MS_PER_DEGREE
    return int((mean_ms - eq_of_time(_century(mean_ms)) * 60_000) // 1000)


def _is_up(latitude_deg: float, longitude_deg: float, at_s: int) -> bool:
    """Whether the sun's upper limb shows above a level horizon.

    Spherical triangle of pole, zenith and sun: sin h = sin(lat) sin(dec) + cos(lat) cos(dec) cos(hour angle).
    """
    at_ms = at_s * 1000
    century = _century(at_ms)
    declination = radians(sun_declination(century))
    hour_angle = radians(at_ms / _MS_PER_DEGREE % 360 + longitude_deg + eq_of_time(century) / 4 - 180)
    latitude = radians(latitude_deg)
    sin_height = sin(latitude) * sin(declination) + cos(latitude) * cos(declination) * cos(hour_angle)
    return sin_height > _SIN_HORIZON


def _crossing_near(latitude_deg: float, longitude_deg: float, at_s: int, *, rising: bool) -> int:
    """The second at which the sun would cross the horizon if it stayed among the stars where it is at ``at_s``."""
    century = _century(at_s * 1000)
    declination, latitude = radians(sun_declination(century)), radians(latitude_deg)
    across = cos(latitude) * cos(declination)
    cos_angle = (_SIN_HORIZON - sin(latitude) * sin(declination)) / across if across else 2.0
    if abs(cos_angle) > 1:
        return at_s
    angle_deg = degrees(acos(cos_angle)) * (-1 if rising else 1)
    now_deg = at_s * 1000 / _MS_PER_DEGREE % 360 + longitude_deg + eq_of_time(century) / 4 - 180
    ahead_deg = (angle_deg - now_deg + 180) % 360 - 180
    return ceil(at_s + ahead_deg * _MS_PER_DEGREE / 1000)


def _century(at_ms: float) -> float:
    return (at_ms / DAY_MS - _J2000_DAY) / _DAYS_PER_CENTURY
