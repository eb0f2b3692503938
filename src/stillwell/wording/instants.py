"""Instants as the clock on the wall of the home shows them."""

from datetime import datetime
from zoneinfo import ZoneInfo

from stillwell.civiltime import instants_of_local, local_datetime
from stillwell.wording.durations import rounded

_WEEK_MS = 6 * 86_400_000


def moment(zone: ZoneInfo, at_ms: int) -> str:
    """Write an instant to the minute: "Tue 3 Mar 2026 07:12"; where the clocks show it twice, which of the two."""
    local = local_datetime(zone, at_ms)
    return f"{_date(local)} {clock(zone, at_ms)}"


def clock(zone: ZoneInfo, at_ms: int) -> str:
    """Write only the time of day: "07:12", "01:30 GMT" where the clocks show it twice."""
    local = local_datetime(zone, at_ms)
    twice = len(instants_of_local(zone, local.replace(tzinfo=None))) > 1
    return f"{local:%H:%M} {local.tzname()}" if twice else f"{local:%H:%M}"


def margin(zone: ZoneInfo, at_ms: int, now_ms: int) -> str:
    """Write an instant for the margin of a page: the time of day, before it the weekday where it is not today's."""
    if day(zone, at_ms) == day(zone, now_ms):
        return clock(zone, at_ms)
    if abs(now_ms - at_ms) < _WEEK_MS:
        return f"{local_datetime(zone, at_ms):%a} {clock(zone, at_ms)}"
    return moment(zone, at_ms)


def day(zone: ZoneInfo, at_ms: int) -> str:
    """Write the local date of an instant: "Tue 3 Mar 2026"."""
    return _date(local_datetime(zone, at_ms))


def stretch(zone: ZoneInfo, start_ms: int, end_ms: int) -> str:
    """Write a stretch of time: "from Tue 3 Mar 2026 07:12 to 09:30 (2 h 18 min)"."""
    same = day(zone, start_ms) == day(zone, end_ms)
    until = clock(zone, end_ms) if same else moment(zone, end_ms)
    return f"from {moment(zone, start_ms)} to {until} ({rounded(end_ms - start_ms)})"


def _date(local: datetime) -> str:
    return f"{local:%a} {local.day} {local:%b %Y}"
