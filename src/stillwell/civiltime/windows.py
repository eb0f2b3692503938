"""Daily windows and moments: `between 22:00 and 07:00`, `between sunset and sunrise`, `at 08:00`."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from stillwell.civiltime.pieces import Span
from stillwell.civiltime.sun import Position, SunEvent, last_sun_event, sun_events
from stillwell.civiltime.walltime import Edge, instant_of_day, is_skipped, local_day

_MINUTES_PER_DAY = 1440
_HALF_DAY_MS = 43_200_000


@dataclass(frozen=True, slots=True)
class HomeTime:
    """What a home's local time depends on: its zone and, for sunrise and sunset, where it stands."""

    zone: ZoneInfo
    position: Position | None = None


@dataclass(frozen=True, slots=True)
class ClockTime:
    """A time of the local day as its minute, 0 (00:00) to 1439 (23:59)."""

    minute: int

    def __post_init__(self) -> None:
        if not 0 <= self.minute < _MINUTES_PER_DAY:
            raise ValueError(f"minute {self.minute} is not within the day, 0 to 1439")


@dataclass(frozen=True, slots=True)
class SunTime:
    """A time that goes with the sun: `offset_ms` after sunrise or sunset (before it, where negative)."""

    event: SunEvent
    offset_ms: int = 0


TimeOfDay = ClockTime | SunTime


def window(home: HomeTime, start: TimeOfDay, end: TimeOfDay, span: Span) -> list[Span]:
    """When a daily window is open within `span`: disjoint spans in order of time, touching ones made one.

    Two clock times belong together by date: the window ends on the day it starts if `end` is the later time
    of day, else on the next; the same time twice is the whole day. A start edge in a repeated hour is the
    first of the two, an end edge the last; an edge in a skipped hour is the first instant after the gap,
    and a window that lies all within the gap is empty that day.

    Where both edges go with the sun, each start runs to the next end after it, however far that is: `between
    sunset and sunrise` is one long window in polar night and none in midnight sun. A clock time and the sun
    belong together by date, sunrise counting as a morning and sunset as an evening time: `between 05:00 and
    sunrise` is empty on a day on which the sun was up before 05:00, `between sunset and 22:00` where the sun
    sets after 22:00. Where there is no sunrise or sunset for weeks, such a window lasts the half day before or
    after it would be, while it is dark or light all the same, else it is empty.

    Raises ValueError for the sun without a position.
    """
    if isinstance(start, ClockTime) and isinstance(end, ClockTime):
        return merged(_clock_windows(home.zone, start.minute, end.minute, span), span)
    if isinstance(start, SunTime) and isinstance(end, SunTime):
        return merged(_sun_windows(home, start, end, span), span)
    return merged(_mixed_windows(home, start, end, span), span)


def occurrences(home: HomeTime, at: TimeOfDay, span: Span) -> list[int]:
    """The instants within `span` at which it is `at`, in order: once each local day, or at each sun event.

    A clock time in a skipped hour is the first instant after the gap, in a repeated hour the first of the
    two; a date that a zone left out of its calendar altogether has none. Raises ValueError for the sun
    without a position.
    """
    if isinstance(at, SunTime):
        return _edges(home, at, "once", span)
    days = _days_about(home.zone, span)
    found = [
        instant_of_day(home.zone, day, at.minute, "once")
        for day in days
        if not (is_skipped(home.zone, day, at.minute) and _is_left_out(home.zone, day))
    ]
    return [instant for instant in found if span[0] <= instant < span[1]]


def merged(spans: Iterable[Span], within: Span) -> list[Span]:
    """Spans cut to `within`, in order of time, overlapping and touching ones made one."""
    found: list[Span] = []
    for from_ms, until_ms in sorted(spans):
        begin, stop = max(from_ms, within[0]), min(until_ms, within[1])
        if begin >= stop:
            continue
        if found and begin <= found[-1][1]:
            found[-1] = (found[-1][0], max(stop, found[-1][1]))
        else:
            found.append((begin, stop))
    return found


def _clock_windows(zone: ZoneInfo, start: int, end: int, span: Span) -> Iterator[Span]:
    days_between = 0 if end > start else 1
    for day in _days_about(zone, span):
        yield (
            instant_of_day(zone, day, start, "start"),
            instant_of_day(zone, day + days_between, end, "end"),
        )


def _mixed_windows(home: HomeTime, start: TimeOfDay, end: TimeOfDay, span: Span) -> Iterator[Span]:
    days_between = 0 if _usual_minute(end) > _usual_minute(start) else 1
    for day in _days_about(home.zone, span):
        begins = _edge_of_day(home, start, day, "start")
        stops = _edge_of_day(home, end, day + days_between, "end")
        if begins is not None and stops is not None and begins < stops:
            yield begins, stops


def _usual_minute(at: TimeOfDay) -> int:
    """The time of day at which an edge usually falls, as a minute; past midnight where a shift takes it there."""
    if isinstance(at, ClockTime):
        return at.minute
    return (360 if at.event == "sunrise" else 1080) + at.offset_ms // 60_000


def _edge_of_day(home: HomeTime, at: TimeOfDay, day: int, edge: Edge) -> int | None:
    """The edge that belongs to a local day; without a sun event near it, see `window`."""
    if isinstance(at, ClockTime):
        return instant_of_day(home.zone, day, at.minute, edge)
    usual = instant_of_day(home.zone, day, 360 if at.event == "sunrise" else 1080, "once")
    near = sun_events(_position(home), at.event, (usual - _HALF_DAY_MS, usual + _HALF_DAY_MS))
    if near:
        return min(near, key=lambda instant: abs(instant - usual)) + at.offset_ms
    up = _sun_is_up(home, usual)
    waits = up if at.event == "sunset" else not up
    if edge == "end":
        return usual + _HALF_DAY_MS if waits else None
    return None if waits else usual - _HALF_DAY_MS


def _sun_is_up(home: HomeTime, at_ms: int) -> bool:
    rose, sank = (last_sun_event(_position(home), event, at_ms) for event in ("sunrise", "sunset"))
    return rose is not None and (sank is None or rose > sank)


def _sun_windows(home: HomeTime, start: TimeOfDay, end: TimeOfDay, span: Span) -> Iterator[Span]:
    """Open at t means: the latest start edge up to t is no earlier than the latest end edge up to t."""
    last_start = _last_edge(home, start, "start", span[0])
    last_end = _last_edge(home, end, "end", span[0])
    is_open = last_start is not None and (last_end is None or last_start >= last_end)
    opened = span[0]
    after = (span[0] + 1, span[1])
    starts = [(at, True) for at in _edges(home, start, "start", after)]
    ends = [(at, False) for at in _edges(home, end, "end", after)]
    for at, opens in sorted(starts + ends):  # at one and the same instant the end comes first
        if opens and not is_open:
            opened = at
        elif is_open and not opens:
            yield opened, at
        is_open = opens
    if is_open:
        yield opened, span[1]


def _edges(home: HomeTime, at: TimeOfDay, edge: Edge, span: Span) -> list[int]:
    if isinstance(at, SunTime):
        shifted = (span[0] - at.offset_ms, span[1] - at.offset_ms)
        return [instant + at.offset_ms for instant in sun_events(_position(home), at.event, shifted)]
    found = {instant_of_day(home.zone, day, at.minute, edge) for day in _days_about(home.zone, span)}
    return sorted(instant for instant in found if span[0] <= instant < span[1])


def _last_edge(home: HomeTime, at: TimeOfDay, edge: Edge, until_ms: int) -> int | None:
    """The latest edge at or before `until_ms`."""
    if isinstance(at, SunTime):
        instant = last_sun_event(_position(home), at.event, until_ms - at.offset_ms)
        return None if instant is None else instant + at.offset_ms
    days = _days_about(home.zone, (until_ms, until_ms + 1))
    instants = (instant_of_day(home.zone, day, at.minute, edge) for day in days)
    return max(instant for instant in instants if instant <= until_ms)


def _position(home: HomeTime) -> Position:
    if home.position is None:
        raise ValueError("sunrise and sunset need the position of the home")
    return home.position


def _days_about(zone: ZoneInfo, span: Span) -> range:
    """Every local day whose windows, or whose skipped or repeated hours, may reach into the span."""
    return range(local_day(zone, span[0]) - 2, local_day(zone, span[1]) + 2)


def _is_left_out(zone: ZoneInfo, day: int) -> bool:
    """Whether the calendar jumped over the whole day, as Samoa's did over 30 December 2011."""
    return instant_of_day(zone, day, 0, "start") == instant_of_day(zone, day + 1, 0, "start")
