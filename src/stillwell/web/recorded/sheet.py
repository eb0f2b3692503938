"""Days of a record on one sheet, as the page shows them."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import ClassVar, Final
from zoneinfo import ZoneInfo

from stillwell.charts.day_sheet import MOST_ROWS, day_drawings, months, months_drawing, whole_drawing
from stillwell.charts.days import Sheet, sheet_of
from stillwell.charts.hours_across import day_hours
from stillwell.charts.marks import key
from stillwell.civiltime import Span, local_datetime, local_instant
from stillwell.plan.model import Plan
from stillwell.replay.day_facts import DayFacts, day_facts
from stillwell.web.recorded.reading import LOST, WATCH, Reading, kind_name
from stillwell.wording.counting import counted
from stillwell.wording.instants import clock
from stillwell.wording.recorded import date_words, dates_words, days_sentence, out_cell, quiet_cell

SPANS: Final = ((1, "day"), (7, "week"), (31, "month"), (366, "year"))
MOST_DAYS: Final = 366


@dataclass(frozen=True, slots=True)
class Key:
    """A mark of the legend as SVG, and what it stands for."""

    drawing: str
    said: str


@dataclass(frozen=True, slots=True)
class DayRow:
    """A day, or a week where there are many: its address, drawing (none of a week) and what it held, in words."""

    day: str
    address: str
    drawing: str
    signs: str
    first: str
    last: str
    quiet: str
    out: str
    happened: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Turn:
    """A way to another sheet; no address where there is none."""

    said: str
    address: str
    here: bool = False


@dataclass(frozen=True, slots=True)
class SheetPage:
    """Days of a record. ``whole`` is one drawing of all, with ``months`` beside it, where the days are many."""

    home: str
    source: str
    dates: str
    sentence: str
    first: str
    days: int
    earliest: str
    latest: str
    earlier: Turn
    later: Turn
    spans: tuple[Turn, ...]
    hours: str
    rows: tuple[DayRow, ...]
    by_week: bool
    whole: str
    months: str
    keys: tuple[Key, ...]
    limits: str

    title: ClassVar[str] = "Record"
    template: ClassVar[str] = "record.html"
    place: ClassVar[str] = "record"


@dataclass(frozen=True, slots=True)
class NothingYet:
    """There is no record to show, and why."""

    home: str
    why: str

    title: ClassVar[str] = "Record"
    template: ClassVar[str] = "record_none.html"
    place: ClassVar[str] = "record"


def span_of(zone: ZoneInfo, first: date, days: int) -> Span:
    """Return the span of whole local days."""
    last = first + timedelta(days=days)
    return local_instant(zone, first, 0, "start"), local_instant(zone, last, 0, "start")


def sheet_page(
    found: Reading, plan: Plan, zone: ZoneInfo, source: str, first: date, days: int, whole: Span
) -> SheetPage:
    """Return a sheet of ``days`` days from ``first`` on; ``whole`` is from when to when there is anything."""
    span = span_of(zone, first, days)
    sheet = sheet_of(zone, span)
    seen = found.seen(span, plan, zone)
    dates = [first + timedelta(days=number) for number in range(days)]
    facts = day_facts(zone, dates, found.life, found.outings, whole)
    alarms = sum(one.kind == "alarm" and span[0] <= one.at_ms < span[1] for one in found.book.happened)
    many = days > MOST_ROWS
    drawings = [""] * days if many else day_drawings(sheet, seen)
    rows = [_row(found, one, drawing, zone) for one, drawing in zip(facts, drawings, strict=True)]
    earliest, latest = _date(zone, whole[0]), _date(zone, whole[1] - 1)
    return SheetPage(
        plan.home.name,
        source,
        dates_words(dates[0], dates[-1]),
        days_sentence([one for one in facts if one.span[0] < whole[1] and one.span[1] > whole[0]], alarms, zone),
        first.isoformat(),
        days,
        earliest.isoformat(),
        latest.isoformat(),
        _turn("Earlier", first - timedelta(days=days), days, first > earliest),
        _turn("Later", first + timedelta(days=days), days, dates[-1] < latest),
        tuple(_spans(dates[-1], days, earliest)),
        day_hours(),
        tuple(_weeks(found, facts, zone)) if many else tuple(rows),
        many,
        whole_drawing(sheet, seen) if many else "",
        _months(sheet) if many else "",
        tuple(_keys(found, span)),
        _limits(found),
    )


def address(first: date, days: int) -> str:
    """Return the address of a sheet."""
    return f"/record?from={first.isoformat()}&days={days}"


def _row(found: Reading, facts: DayFacts, drawing: str, zone: ZoneInfo) -> DayRow:
    start, end = facts.span
    told = [(one.at_ms, one.said) for one in found.book.happened]
    told += [(since, f'quiet beyond the limit "{name}"') for name, since in found.beyond]
    happened = [f"{clock(zone, at_ms)} {said}" for at_ms, said in sorted(told) if start <= at_ms < end]
    return DayRow(
        date_words(facts.day, year=False),
        f"/record/{facts.day.isoformat()}",
        drawing,
        f"{facts.signs:,}",
        _clock(facts.first_ms, zone),
        _clock(facts.last_ms, zone),
        quiet_cell(facts.quiet, zone),
        out_cell(facts.out),
        tuple(happened),
    )


def _weeks(found: Reading, facts: Sequence[DayFacts], zone: ZoneInfo) -> Iterator[DayRow]:
    """Yield the weeks of many days, each from Monday on."""
    by_week: dict[date, list[DayFacts]] = {}
    for one in facts:
        by_week.setdefault(one.day - timedelta(days=one.day.weekday()), []).append(one)
    for monday, week in by_week.items():
        start, end = week[0].span[0], week[-1].span[1]
        quiet = max((one.quiet for one in week if one.quiet), key=lambda one: one[1] - one[0], default=None)
        firsts = [clock(zone, one.first_ms) for one in week if one.first_ms is not None]
        lasts = [clock(zone, one.last_ms) for one in week if one.last_ms is not None]
        alarms = sum(start <= one.at_ms < end and one.kind == "alarm" for one in found.book.happened)
        yield DayRow(
            f"{date_words(week[0].day)}",
            address(monday, 7),
            "",
            f"{sum(one.signs for one in week):,}",
            min(firsts, default="-"),
            max(lasts, default="-"),
            quiet_cell(quiet, zone),
            out_cell([out for one in week for out in one.out]),
            (counted(alarms, "alarm"),) if alarms else (),
        )


def _spans(last: date, days: int, earliest: date) -> Iterator[Turn]:
    for length, word in SPANS:
        first = max(last - timedelta(days=length - 1), earliest) if length > MOST_ROWS else last - timedelta(length - 1)
        yield Turn(f"A {word}", address(first, (last - first).days + 1), days == length)


def _turn(said: str, first: date, days: int, there: bool) -> Turn:
    return Turn(said, address(first, days) if there else "")


def _months(sheet: Sheet) -> str:
    addresses = [address(day, last - first) for day, first, last in months(sheet)]
    return months_drawing(sheet, addresses)


def _keys(found: Reading, span: Span) -> Iterator[Key]:
    shown = [one for one in found.book.happened if span[0] <= one.at_ms < span[1]]
    names = {kind_name(one, found.kinds) for one in shown if one.kind != "drill"}
    drills = {kind_name(one, found.kinds) for one in shown if one.kind == "drill"}
    for name, number in found.kinds.items():
        if name in names:
            yield Key(key(number), name if name in {LOST, WATCH} else f"{name} raised")
        if name in drills:
            yield Key(key(number, hollow=True), f"{name}, a drill")


def _limits(found: Reading) -> str:
    if not found.limits:
        return ""
    tables = " and ".join(f'"{one.name}"' for one in found.limits)
    return f"Where a line is ruled through, it was quiet for longer than the limits {tables} of the plan allow."


def _clock(at_ms: int | None, zone: ZoneInfo) -> str:
    return "-" if at_ms is None else clock(zone, at_ms)


def _date(zone: ZoneInfo, at_ms: int) -> date:
    return local_datetime(zone, at_ms).date()
