"""Local hours, days and weeks as spans of time, each as long as the clocks make it."""

from collections.abc import Iterator
from datetime import date
from itertools import pairwise
from zoneinfo import ZoneInfo

from stillwell.civiltime.pieces import DAY_MS, HOUR_MS, Span, transitions
from stillwell.civiltime.walltime import date_of, day_number, instant_of_day
from stillwell.civiltime.windows import HomeTime, merged

_WEEK_DAYS = 7
_HOURS_PER_DAY = 24
_WEEKDAY_OF_DAY_0 = 3  # 1970-01-01 was a Thursday


def hour_edges(zone: ZoneInfo, span: Span) -> list[tuple[int, int]]:
    """The local hours of a span as (start_ms, hour), hour 0 to 23, in order of time; the first starts at
    span[0].

    Each holds until the next. A repeated hour stands twice; where the clocks move by half an hour, an hour
    may be one and a half, or a half, of one long.
    """
    return [(start, local_ms // HOUR_MS % _HOURS_PER_DAY) for start, local_ms in _local_steps(zone, span, HOUR_MS)]


def day_edges(zone: ZoneInfo, span: Span) -> list[tuple[int, date]]:
    """The local days of a span as (start_ms, date), in order of time; the first starts at span[0].

    Each holds until the next. Where the clocks go back over midnight, a day is interrupted and stands twice.
    """
    found: list[tuple[int, date]] = []
    for start, local_ms in _local_steps(zone, span, DAY_MS):
        day = date_of(local_ms // DAY_MS)
        if not found or found[-1][1] != day:
            found.append((start, day))
    return found


def weekday_spans(home: HomeTime, days: frozenset[int], span: Span) -> list[Span]:
    """When the local date falls on one of the weekdays `days` (Monday 0 to Sunday 6), within `span`.

    Disjoint spans in order of time, neighbouring days made one. A day lasts as long as the wall clock shows
    its date: 23, 24 or 25 hours.
    """
    steps = [*_local_steps(home.zone, span, DAY_MS), (span[1], 0)]
    chosen = [
        (start, until)
        for (start, local_ms), (until, _) in pairwise(steps)
        if (local_ms // DAY_MS + _WEEKDAY_OF_DAY_0) % _WEEK_DAYS in days
    ]
    return merged(chosen, span)


def week_of(zone: ZoneInfo, monday: date) -> Span:
    """The local week from 00:00 of `monday` to 00:00 of the next Monday. ValueError for another weekday."""
    if monday.weekday() != 0:
        raise ValueError(f"{monday} is not a Monday")
    return _week(zone, day_number(monday))


def dst_weeks(zone: ZoneInfo, year: int) -> list[Span]:
    """The local weeks in which the clocks change during a calendar year, in order; none in many zones."""
    first = instant_of_day(zone, day_number(date(year, 1, 1)), 0, "start")
    until = instant_of_day(zone, day_number(date(year + 1, 1, 1)), 0, "start")
    changes = transitions(zone, (first - 1, until))[1:]
    mondays = {_monday_of((at + offset) // DAY_MS) for at, offset in changes}
    return [_week(zone, monday) for monday in sorted(mondays)]


def ordinary_week(zone: ZoneInfo, year: int) -> Span:
    """The first local week that begins in a calendar year and in which the clocks do not change."""
    january = day_number(date(year, 1, 1))
    mondays = range(_monday_of(january + _WEEK_DAYS - 1), january + 365, _WEEK_DAYS)
    return next(
        week
        for week in (_week(zone, monday) for monday in mondays)
        if week[1] - week[0] == _WEEK_DAYS * DAY_MS and len(transitions(zone, week)) == 1
    )


def _week(zone: ZoneInfo, monday: int) -> Span:
    return (
        instant_of_day(zone, monday, 0, "start"),
        instant_of_day(zone, monday + _WEEK_DAYS, 0, "start"),
    )


def _monday_of(day: int) -> int:
    return day - (day + _WEEKDAY_OF_DAY_0) % _WEEK_DAYS


def _local_steps(zone: ZoneInfo, span: Span, step_ms: int) -> Iterator[tuple[int, int]]:
    """(instant, local ms) at the start of the span, each change of the clocks, each local step."""
    if span[0] >= span[1]:
        return
    pieces = [*transitions(zone, span), (span[1], 0)]
    for (from_ms, offset), (until_ms, _) in pairwise(pieces):
        yield from_ms, from_ms + offset
        local_ms = from_ms + offset
        first_step = local_ms - local_ms % step_ms + step_ms
        for step in range(first_step, until_ms + offset, step_ms):
            yield step - offset, step
