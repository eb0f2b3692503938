"""A day, an hour or a minute of a record, part by part, as the page shows it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import ClassVar, Final
from zoneinfo import ZoneInfo

import numpy as np

from stillwell.charts.hours_across import hours_across
from stillwell.charts.part_lanes import lane
from stillwell.charts.silence_lane import silence_lane
from stillwell.civiltime import Span, hour_edges, local_instant
from stillwell.plan.model import Plan
from stillwell.plan.names import part_signals
from stillwell.record.columns import Column
from stillwell.record.outings import longest_quiet
from stillwell.replay.allowed import beyond
from stillwell.web.recorded.reading import Reading
from stillwell.web.recorded.sheet import Turn, address
from stillwell.wording.counting import counted
from stillwell.wording.durations import at_most, rounded
from stillwell.wording.instants import clock
from stillwell.wording.recorded import date_words
from stillwell.wording.reports import report_words, second_words, signal_words, stretch_words
from stillwell.wording.vocabulary import Vocabulary, vocabulary

MOST_REPORTS: Final = 400
MINUTE_MS: Final = 60_000
HOUR_MS: Final = 3_600_000
_SILENT: Final = frozenset({"alive", "battery", "link_lost"})


@dataclass(frozen=True, slots=True)
class LaneRow:
    """A signal: what it is about, what it did, and its drawing."""

    name: str
    said: str
    drawing: str


@dataclass(frozen=True, slots=True)
class SilenceRow:
    """Silence against a table of limits: the drawing, what its height stands for, and what it says in words."""

    name: str
    drawing: str
    high: str
    said: str


@dataclass(frozen=True, slots=True)
class ReportRow:
    """Something at an instant: a report, or what happened."""

    at: str
    said: str
    happened: bool


@dataclass(frozen=True, slots=True)
class WindowPage:
    """A day, an hour or a minute. ``inner`` leads further in, ``up`` out again."""

    home: str
    source: str
    heading: str
    sentence: str
    up: tuple[Turn, ...]
    earlier: Turn
    later: Turn
    ticks: str
    lanes: tuple[LaneRow, ...]
    silences: tuple[SilenceRow, ...]
    inner: tuple[Turn, ...]
    inner_said: str
    reports: tuple[ReportRow, ...]
    left_out: int

    title: ClassVar[str] = "Record"
    template: ClassVar[str] = "window.html"
    place: ClassVar[str] = "record"


@dataclass(frozen=True, slots=True)
class Window:
    """Which window: a local day, in it perhaps an hour, in that perhaps a minute."""

    day: date
    hour: int | None = None
    minute: int | None = None

    def span(self, zone: ZoneInfo) -> Span:
        """Return its instants; a repeated hour counts as one, a skipped one is empty."""
        if self.hour is None:
            return local_instant(zone, self.day, 0, "start"), _next_day(zone, self.day, "start")
        first = self.hour * 60 + (self.minute or 0)
        last = first + (60 if self.minute is None else 1)
        end = _next_day(zone, self.day, "end") if last == _DAY_MIN else local_instant(zone, self.day, last, "end")
        start = local_instant(zone, self.day, first, "start")
        if self.minute is not None and end - start > MINUTE_MS:  # the clocks went back between the two
            end = start + MINUTE_MS
        return start, end

    @property
    def path(self) -> str:
        """Return its address."""
        pieces = [self.day.isoformat(), *(f"{piece:02}" for piece in (self.hour, self.minute) if piece is not None)]
        return f"/record/{'/'.join(pieces)}"

    def moved(self, by: int) -> "Window":
        """Return the window of the same length so many before (negative) or after."""
        if self.hour is None:
            return Window(self.day + timedelta(days=by))
        if self.minute is None:
            days, hour = divmod(self.hour + by, 24)
            return Window(self.day + timedelta(days=days), hour)
        hours, minute = divmod(self.hour * 60 + self.minute + by, 60)
        days, hour = divmod(hours, 24)
        return Window(self.day + timedelta(days=days), hour, minute)

    @property
    def heading(self) -> str:
        """Say which it is."""
        if self.hour is None:
            return date_words(self.day)
        last = f"{self.hour:02}:{59 if self.minute is None else self.minute:02}"
        if self.minute is not None:
            return f"{date_words(self.day)}, {last}"
        return f"{date_words(self.day)}, {self.hour:02}:00 to {last}"


_DAY_MIN: Final = 1440


def _next_day(zone: ZoneInfo, day: date, edge: str) -> int:
    following = day + timedelta(days=1)
    return local_instant(zone, following, 0, "end" if edge == "end" else "start")


def window_page(found: Reading, plan: Plan, zone: ZoneInfo, source: str, window: Window, whole: Span) -> WindowPage:
    """Return a window for reading; ``whole`` is from when to when there is anything."""
    span = window.span(zone)
    words, units = vocabulary(plan), {name: kind.unit for name, kind in part_signals(plan).items()}
    signals = _shown(found, plan)
    rows = list(_reports(found, signals, span, words, units, zone)) if window.hour is not None else []
    if window.hour is None:
        rows = [ReportRow(clock(zone, one.at_ms), one.said, happened=True)
                for one in found.book.happened if span[0] <= one.at_ms < span[1]]  # fmt: skip
    inner, inner_said = _inner(window)
    return WindowPage(
        plan.home.name,
        source,
        window.heading,
        _sentence(found, span, zone),
        tuple(_up(window)),
        _turn("Earlier", window.moved(-1), window.moved(-1).span(zone)[1] > whole[0]),
        _turn("Later", window.moved(1), window.moved(1).span(zone)[0] < whole[1]),
        hours_across(_ticks(window, span, zone)),
        tuple(
            LaneRow(
                signal_words(name, words),
                stretch_words(column, span, zone, units.get(name, "")),
                lane(column, span, whole[1]),
            )
            for name, column in signals.items()
        ),
        tuple(_silences(found, span)),
        tuple(inner),
        inner_said,
        tuple(rows[:MOST_REPORTS]),
        max(0, len(rows) - MOST_REPORTS),
    )


def _shown(found: Reading, plan: Plan) -> dict[str, Column]:
    """Return the signals that say something of the home, in the order of the plan's parts."""
    order = {name: number for number, name in enumerate(plan.parts)}
    record = found.book.record
    names = [name for name in record.signals if name.rpartition(".")[2] not in _SILENT]
    names.sort(key=lambda name: (order.get(name.partition(".")[0], len(order)), name))
    return {name: record.signals[name] for name in names}


def _sentence(found: Reading, span: Span, zone: ZoneInfo) -> str:
    inside = found.life[np.searchsorted(found.life, span[0]) : np.searchsorted(found.life, span[1])]
    happened = [one for one in found.book.happened if span[0] <= one.at_ms < span[1]]
    alarms = counted(sum(one.kind == "alarm" for one in happened), "alarm")
    if not len(inside):
        return f"No movement; {alarms}."
    begun = {start for start, _ in found.outings}
    start, end = longest_quiet(found.life, span[0], min(span[1], found.book.record.span[1]), begun)
    signs = counted(len(inside), "sign of life", "signs of life")
    return f"{signs}; the longest quiet at home {rounded(end - start)}, from {clock(zone, start)}; {alarms}."


def _silences(found: Reading, span: Span) -> Iterator[SilenceRow]:
    for table in found.limits:
        drawing, high = silence_lane(table.signs, table.limits, span)
        over = [one for one in beyond(table, found.book.record.span[1]) if one[1] > span[0] and one[0] < span[1]]
        said = f"Quiet for longer than allowed {counted(len(over), 'time')}." if over else "Never longer than allowed."
        yield SilenceRow(table.name, drawing, at_most(high), said)


def _reports(
    found: Reading, signals: dict[str, Column], span: Span, words: Vocabulary, units: dict[str, str], zone: ZoneInfo
) -> Iterator[ReportRow]:
    """Yield what was reported and what happened, in order."""
    rows = [(one.at_ms, one.said, True) for one in found.book.happened if span[0] <= one.at_ms < span[1]]
    for name, column in signals.items():
        first, last = np.searchsorted(column.times, span)
        for index in range(int(first), int(last)):
            text = report_words(name, column, index, words, units.get(name, ""))
            rows.append((int(column.times[index]), text, False))
    for at_ms, text, happened in sorted(rows, key=lambda row: row[0]):
        yield ReportRow(second_words(zone, at_ms), text, happened)


def _ticks(window: Window, span: Span, zone: ZoneInfo) -> list[tuple[float, str]]:
    start, end = span
    if window.hour is None:
        edges = [(at, hour) for at, hour in hour_edges(zone, span) if hour % 3 == 0]
        return [((at - start) / (end - start), f"{hour:02}") for at, hour in edges]
    if window.minute is None:
        return [((at - start) / (end - start), f"{clock(zone, at)[3:5]}") for at in range(start, end, 10 * MINUTE_MS)]
    return [(second / 60, f"{second:02} s") for second in range(0, 60, 15)]


def _inner(window: Window) -> tuple[Sequence[Turn], str]:
    if window.hour is None:
        return [Turn(f"{hour:02}", Window(window.day, hour).path) for hour in range(24)], "Hour by hour"
    if window.minute is None:
        steps = [Window(window.day, window.hour, minute) for minute in range(60)]
        return [Turn(f"{one.minute:02}", one.path) for one in steps], "Minute by minute"
    return [], ""


def _up(window: Window) -> Iterator[Turn]:
    monday = window.day - timedelta(days=window.day.weekday())
    yield Turn("The week", address(monday, 7))
    if window.hour is not None:
        yield Turn(date_words(window.day), Window(window.day).path)
    if window.minute is not None and window.hour is not None:
        yield Turn(f"{window.hour:02}:00 to {window.hour:02}:59", Window(window.day, window.hour).path)


def _turn(said: str, window: Window, there: bool) -> Turn:
    return Turn(said, window.path if there else "")
