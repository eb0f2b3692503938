"""A day and night of a home in ruled rows: a room each, time across, movement as ink.

Every row is a drawing of its own that any width may stretch: places across are shares of the width. The words beside
it say the same.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final, Literal
from zoneinfo import ZoneInfo

from stillwell.charts.svg import percent, tag, text, title
from stillwell.civiltime import Span, hour_edges
from stillwell.wording.counting import listed
from stillwell.wording.instants import clock

CELL_MS: Final = 300_000
"""Ink stands for five minutes: one movement can be seen, and a busy hour is a bar."""
HEIGHT: Final = 28
"""Pixels of a row."""
HOURS_HEIGHT: Final = 22
EVERY_H: Final = 3
_MOST_STRETCHES: Final = 8
_FOG: Final = (7, 12.5, 18)
"""What was not seen is three lines, the sign of fog on a weather chart."""
_JOINED_MS: Final = 20 * 60_000
"""In words, movements closer than this are one stretch."""


@dataclass(frozen=True, slots=True)
class Event:
    """Something at an instant: an alarm raised, an outside door opened. ``said`` tells what."""

    at_ms: int
    said: str


@dataclass(frozen=True, slots=True)
class Row:
    """A line of the strip.

    ``ink`` holds stretches of movement, ``unseen`` those in which nothing there could be seen, ``events`` instants;
    ``said`` says the row in words. Spans are half-open.
    """

    name: str
    kind: Literal["room", "doors", "alarms"]
    ink: tuple[Span, ...]
    unseen: tuple[Span, ...]
    events: tuple[Event, ...]
    said: str


@dataclass(frozen=True, slots=True)
class DayStrip:
    """The rows over one span, and when it is night in it."""

    span: Span
    nights: tuple[Span, ...]
    rows: tuple[Row, ...]


def inked(times: Iterable[int], span: Span) -> tuple[Span, ...]:
    """Return the cells in which something moved; neighbouring ones are one stretch."""
    cells = sorted({at_ms // CELL_MS for at_ms in times if span[0] <= at_ms < span[1]})
    return tuple(_joined(((cell * CELL_MS, (cell + 1) * CELL_MS) for cell in cells), 0, span))


def room_row(name: str, times: Sequence[int], unseen: Sequence[Span], span: Span, zone: ZoneInfo) -> Row:
    """Return the line of a room."""
    ink = inked(times, span)
    cut = tuple((max(a, span[0]), min(b, span[1])) for a, b in unseen if b > span[0] and a < span[1])
    stretches = [_stretch(one, zone) for one in _joined(ink, _JOINED_MS, span)]
    said = f"Movement {_few(stretches)}." if stretches else "No movement."
    if cut:
        said += f" Not seen {_few([_stretch(one, zone) for one in cut])}."
    return Row(name, "room", ink, cut, (), said)


def event_row(name: str, kind: Literal["doors", "alarms"], events: Sequence[Event], span: Span, zone: ZoneInfo) -> Row:
    """Return a line of instants."""
    within = tuple(one for one in events if span[0] <= one.at_ms < span[1])
    said = "; ".join(f"{clock(zone, one.at_ms)} {one.said}" for one in within)
    return Row(name, kind, (), (), within, f"{said}." if said else "Nothing.")


def drawing(row: Row, strip: DayStrip) -> str:
    """Return a row as SVG, without its name."""
    middle = HEIGHT / 2
    return tag(
        "svg",
        [
            title(f"{row.name}: {row.said}"),
            *(_box(one, strip.span, 0, HEIGHT, "night") for one in strip.nights),
            tag("line", x1="0", x2="100%", y1=HEIGHT - 0.5, y2=HEIGHT - 0.5, class_="ruled"),
            *(_box(one, strip.span, y, 1.5, "unseen") for one in row.unseen for y in _FOG),
            *(_box(one, strip.span, 5, HEIGHT - 6, "ink") for one in row.ink),
            *(_mark(one, row.kind, strip.span, middle) for one in row.events),
        ],
        class_=f"strip {row.kind}",
        width="100%",
        height=HEIGHT,
        role="img",
    )


def hours(strip: DayStrip, zone: ZoneInfo) -> str:
    """Return the line of hours, as SVG; the words of the rows say the times."""
    ticks = [(at_ms, hour) for at_ms, hour in hour_edges(zone, strip.span)[1:] if hour % EVERY_H == 0]
    return tag("svg", list(_ticks(ticks, strip.span)), class_="strip hours", width="100%", height=HOURS_HEIGHT,
               aria_hidden="true")  # fmt: skip


def _ticks(ticks: Sequence[tuple[int, int]], span: Span) -> Iterator[str]:
    for at_ms, hour in ticks:
        share = _share(at_ms, span)
        yield tag("line", x1=percent(share), x2=percent(share), y1=16, y2=HOURS_HEIGHT, class_="tick")
        if 0.02 < share < 0.97:
            fine = "" if hour % (2 * EVERY_H) == 0 else " fine"
            yield tag("text", [text(f"{hour:02d}")], x=percent(share), y=13, class_=f"hour{fine}", text_anchor="middle")


def _box(span: Span, whole: Span, y: float, height: float, kind: str) -> str:
    left, right = _share(span[0], whole), _share(span[1], whole)
    return tag("rect", x=percent(left), y=y, width=percent(max(right - left, 0.0012)), height=height, class_=kind)


def _mark(event: Event, kind: str, whole: Span, middle: float) -> str:
    """A door is a post, an alarm a pennant: shapes, not colours, tell them apart."""
    shape = "M0 -9V9" if kind == "doors" else "M0 9V-9L9 -5L0 -1"
    inside = tag("path", [title(event.said)], d=shape, class_="mark")
    return tag("svg", [inside], x=percent(_share(event.at_ms, whole)), y=middle, overflow="visible")


def _share(at_ms: int, span: Span) -> float:
    return min(1.0, max(0.0, (at_ms - span[0]) / (span[1] - span[0])))


def _joined(spans: Iterable[Span], gap_ms: int, within: Span) -> list[Span]:
    found: list[Span] = []
    for start, end in spans:
        begin, stop = max(start, within[0]), min(end, within[1])
        if found and begin - found[-1][1] <= gap_ms:
            found[-1] = (found[-1][0], stop)
        else:
            found.append((begin, stop))
    return found


def _stretch(span: Span, zone: ZoneInfo) -> str:
    return f"{clock(zone, span[0])} to {clock(zone, span[1])}"


def _few(texts: Sequence[str]) -> str:
    """Say the last of many stretches; what is older is counted."""
    if len(texts) <= _MOST_STRETCHES:
        return listed(list(texts))
    return f"{listed(list(texts[-_MOST_STRETCHES:]))}, and {len(texts) - _MOST_STRETCHES} times before"
