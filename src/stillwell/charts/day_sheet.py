"""A record as a sheet drawn for a page: days down, hours across, movement as ink, what happened marked.

A sheet has as many days as fit at a glance, each a drawing of its own that its row in the page may name and link, or
so many that they are one drawing. Both may be stretched to any width: only marks keep their shape.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from itertools import pairwise
from typing import Final

from stillwell.charts.days import CELL_MS, Sheet, Strip, ink, place, strips
from stillwell.charts.marks import mark
from stillwell.charts.svg import percent, tag, text
from stillwell.civiltime import Span
from stillwell.record.columns import Times

LEVELS: Final = (1, 2, 5)
"""The least signs of life in a cell for each weight of ink."""
MOST_ROWS: Final = 62
"""So many days are drawn one by one, more as one drawing."""
COARSE_MS: Final = 3 * CELL_MS
_HEIGHTS: Final = ((7, 44), (14, 34), (31, 24), (MOST_ROWS, 20))
_SMALL_ROW: Final = 3
_MINUTES: Final = 1440
_FULL, _TOP, _BOTTOM = (0.5, 1.0), (0.07, 0.14), (0.93, 0.14)
_INK: Final = (0.5, 0.62)
_LINE: Final = (0.5, 0.06)
_NAME_HIGH: Final = 20
_EPOCH_DAY: Final = date(1970, 1, 1).toordinal()


@dataclass(frozen=True, slots=True)
class Marked:
    """Something that happened at an instant: the number of its kind, what is said of it; ``hollow``: a drill."""

    at_ms: int
    kind: int
    said: str
    hollow: bool = False


@dataclass(frozen=True)
class Seen:
    """What a sheet shows: the sorted instants of signs of life, stretches, and marks.

    ``quiet`` are stretches in which it was quiet for longer than the limit in force allows.
    """

    life: Times
    nights: Sequence[Span] = ()
    gaps: Sequence[Span] = ()
    outings: Sequence[Span] = ()
    outages: Sequence[Span] = ()
    quiet: Sequence[Span] = ()
    marks: Sequence[Marked] = field(default=())


def day_drawings(sheet: Sheet, seen: Seen) -> list[str]:
    """Return a drawing of each day."""
    height = next(height for days, height in _HEIGHTS if sheet.days <= days)
    layers = [(look, at, _by_row(found, sheet)) for look, at, found in _layers(sheet, seen, CELL_MS)]
    marks = _mark_rows(sheet, seen.marks)
    drawings = []
    for row in range(sheet.days):
        bands = [_bands([(0, strip) for strip in rows[row]], look, *at) for look, at, rows in layers]
        own = [mark(one.kind, one.said, hollow=one.hollow, x=percent(hour / 24), y="50%") for hour, one in marks[row]]
        drawings.append(_drawing(bands, own, 1, height))
    return drawings


def whole_drawing(sheet: Sheet, seen: Seen) -> str:
    """Return one drawing of all days, in cells of a quarter of an hour; marks of one kind on one day are one."""
    bands = [
        _bands([(strip.row, strip) for strip in found], look, *at)
        for look, at, found in _layers(sheet, seen, COARSE_MS)
    ]
    own = []
    for row, found in enumerate(_mark_rows(sheet, seen.marks)):
        kinds = {(one.kind, one.hollow): (hour, one) for hour, one in reversed(found)}
        for hour, one in kinds.values():
            place = {"x": percent(hour / 24), "y": percent((row + 0.5) / sheet.days)}
            own.append(mark(one.kind, one.said, hollow=one.hollow, **place))
    return _drawing(bands, own, sheet.days, sheet.days * _SMALL_ROW)


def months(sheet: Sheet) -> list[tuple[date, int, int]]:
    """Return the months of a sheet: the first day of each that it shows, and the rows from and to (excluded)."""
    days = [date.fromordinal(sheet.first_day + row + _EPOCH_DAY) for row in range(sheet.days)]
    begins = [row for row, day in enumerate(days) if not row or day.day == 1]
    return [(days[row], row, end) for row, end in pairwise([*begins, sheet.days])]


def months_drawing(sheet: Sheet, addresses: Sequence[str]) -> str:
    """Return the names of the months beside the drawing of many days, each leading to an address."""
    drawn = []
    for (day, first, last), address in zip(months(sheet), addresses, strict=True):
        if (last - first) * _SMALL_ROW >= _NAME_HIGH:
            said = f"{day:%b}" + (f" {day.year}" if day.month == 1 or not first else "")
            name = tag("text", [text(said)], x=0, y=first * _SMALL_ROW + _NAME_HIGH - 4)
            drawn.append(tag("a", [name], href=address))
    return tag("svg", drawn, class_="months", width=86, height=sheet.days * _SMALL_ROW)


def _layers(sheet: Sheet, seen: Seen, cell_ms: int) -> list[tuple[str, tuple[float, float], list[Strip]]]:
    """Return what is drawn, the lowest first: its class, where in the row and how high, and its strips."""
    inked = ink(sheet, seen.life, LEVELS, cell_ms)
    return [
        ("night", _FULL, _strips(sheet, seen.nights)),
        ("gap", _FULL, _strips(sheet, seen.gaps)),
        ("quiet", _FULL, _strips(sheet, seen.quiet)),
        ("beyond", _LINE, _strips(sheet, seen.quiet)),
        *((f"ink-{weight + 1}", _INK, [one for one in inked if one.weight == weight]) for weight in range(len(LEVELS))),
        ("outing", _BOTTOM, _strips(sheet, seen.outings)),
        ("outage", _TOP, _strips(sheet, seen.outages)),
    ]


def _strips(sheet: Sheet, spans: Iterable[Span]) -> list[Strip]:
    start, end = sheet.span
    within = ((max(one, start), min(other, end)) for one, other in spans)
    return [strip for one, other in within if one < other for strip in strips(sheet, one, other)]


def _bands(found: Iterable[tuple[int, Strip]], look: str, middle: float, high: float) -> str:
    """Return strips of one look, each in its row, as one path, in minutes; nothing where there are none.

    Each begins where the one before ended: that is short to write.
    """
    pieces, pen_x, pen_y = [], 0.0, 0
    for row, strip in found:
        left, right = round(strip.left * 60, 1), round(strip.right * 60, 1)
        wide = max(round(right - left, 1), 0.1)
        pieces.append(f"m{round(left - pen_x, 1):g} {row - pen_y}h{wide:g}")
        pen_x, pen_y = left + wide, row
    if not pieces:
        return ""
    return tag("path", d=f"M0 {middle:g}{''.join(pieces)}", stroke_width=high, class_=look)


def _drawing(bands: Iterable[str], marks: Iterable[str], rows: int, height: int) -> str:
    hours = "".join(f"M{hour * 60} 0V{rows}" for hour in range(3, 24, 3))
    grid = tag("path", d=hours, class_="hours")
    stretched = tag(
        "svg",
        [grid, *bands],
        viewBox=f"0 0 {_MINUTES} {rows}",
        preserveAspectRatio="none",
        width="100%",
        height="100%",
    )
    return tag("svg", [stretched, *marks], class_="sheet", width="100%", height=height, aria_hidden="true")


def _by_row(found: Sequence[Strip], sheet: Sheet) -> list[list[Strip]]:
    rows: list[list[Strip]] = [[] for _ in range(sheet.days)]
    for strip in found:
        rows[strip.row].append(strip)
    return rows


def _mark_rows(sheet: Sheet, marks: Sequence[Marked]) -> list[list[tuple[float, Marked]]]:
    rows: list[list[tuple[float, Marked]]] = [[] for _ in range(sheet.days)]
    start, end = sheet.span
    for one in marks:
        if start <= one.at_ms < end:
            row, hour = place(sheet, one.at_ms)
            rows[row].append((hour, one))
    return rows
