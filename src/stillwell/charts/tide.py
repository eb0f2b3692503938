"""Notice time as depth over the hours of a week: one strip a hazard, in a few lines that any width may show.

The waterline is on top; the deeper, the longer until somebody is told. What lies deeper than the deadline is drawn
apart. Words, days and figures stand beside the strip, so that it may be stretched.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise
from operator import itemgetter
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np

from stillwell.charts.notice_rows import Panel, week_of
from stillwell.charts.svg import tag, title
from stillwell.civiltime import Span
from stillwell.proof.curve import NEVER, Curve
from stillwell.proof.deadlines import Deadlines, counted

HOURS: Final = 168
DEPTH: Final = 100
_HOUR_MS: Final = 3_600_000
_DEEPEST: Final = 1.12
"""The bottom lies so much deeper than what is drawn."""
_BROKEN_AT_MOST: Final = 2.0
"""A fault may double the depth of a strip; beyond that its line leaves it."""
_NEVER_AT: Final = 0.985 * DEPTH
"""Where a line runs while nobody is ever told: along the bottom."""


@dataclass(frozen=True, slots=True)
class Slope:
    """A cell of a curve: onsets from ``start`` to ``stop``, how long it takes at either end; None: never."""

    start: int
    stop: int
    left: int | None
    right: int | None


def tide(panel: Panel, zone: ZoneInfo) -> tuple[str, int]:
    """Return the strip of a hazard, with the line of what is broken if anything is, and how deep it is drawn, in ms."""
    week = week_of(panel, zone)
    told = [slope for curve in counted(panel.told, panel.limit) for slope in slopes(curve, week)]
    broken = [] if panel.broken is None else counted(panel.broken, panel.limit)
    then = [slope for curve in broken for slope in slopes(curve, week)]
    scale = _Scale(week, bottom_of(panel.limit, told, then))
    drawing = tag(
        "svg",
        [
            title(f"{panel.title}: {panel.said}"),
            *_nights(panel.limit, scale),
            *(tag("path", d=scale.area(run), class_="depth") for run in runs(told)),
            *(tag("path", d=scale.area(run, top), class_="late") for run, top in _late(told, panel.limit)),
            *(tag("rect", **scale.box(slope), class_="never") for slope in told if slope.left is None),
            *(tag("line", x1=24 * day, x2=24 * day, y1=0, y2=DEPTH, class_="midnight") for day in range(1, 7)),
            *_deadline(panel.limit, scale),
            *(tag("path", d=scale.line(run), class_="broken") for run in runs(then, never=True)),
            tag("line", x1=0, x2=HOURS, y1=0, y2=0, class_="waterline"),
        ],
        viewBox=f"0 0 {HOURS} {DEPTH}",
        preserveAspectRatio="none",
        class_="tide",
        role="img",
    )
    return drawing, scale.bottom_ms


def bottom_of(limit: Deadlines, told: Sequence[Slope], broken: Sequence[Slope] = ()) -> int:
    """Return the depth of the bottom of a strip in milliseconds: below the deadline and all that is drawn."""
    plain = max([limit.night_ms, 0 if limit.only_at_night else limit.day_ms, *map(_deepest, told)])
    most = max([plain, *map(_deepest, broken)])
    return round(min(most, plain * _BROKEN_AT_MOST) * _DEEPEST)


def slopes(curve: Curve, week: Span) -> Iterator[Slope]:
    """Yield the cells of a curve within a week, neighbours that go on alike as one."""
    start, end = max(int(curve.points[0]), week[0]), min(curve.end, week[1])
    if start >= end:
        return
    cut = curve.between(start, end)
    new = np.ones(len(cut.points), np.bool_)
    new[1:] = (cut.fixed[1:] != cut.fixed[:-1]) | (cut.value[1:] != cut.value[:-1])
    firsts = np.flatnonzero(new)
    stops = np.append(cut.points[firsts[1:]], cut.end)
    cells = zip(
        *(column.tolist() for column in (cut.points[firsts], stops, cut.fixed[firsts], cut.value[firsts])), strict=True
    )
    for begin, stop, fixed, value in cells:
        if value == NEVER:
            yield Slope(begin, stop, None, None)
        else:
            yield Slope(begin, stop, value - begin if fixed else value, value - stop if fixed else value)


def runs(found: Sequence[Slope], *, never: bool = False) -> Iterator[list[Slope]]:
    """Yield neighbouring cells together; those in which nobody is told only where ``never`` says so."""
    run: list[Slope] = []
    for slope in found:
        if run and (run[-1].stop != slope.start or (slope.left is None and not never)):
            yield run
            run = []
        if slope.left is not None or never:
            run.append(slope)
    if run:
        yield run


@dataclass(frozen=True, slots=True)
class _Scale:
    week: Span
    bottom_ms: int

    def x(self, at_ms: int) -> str:
        return f"{round((at_ms - self.week[0]) / _HOUR_MS, 2):g}"

    def y(self, depth_ms: float | None) -> str:
        deep = _NEVER_AT if depth_ms is None else depth_ms / self.bottom_ms * DEPTH
        return f"{round(deep, 1):g}"

    def line(self, run: Sequence[Slope]) -> str:
        ends = [f"{self.x(one.start)} {self.y(one.left)}L{self.x(one.stop)} {self.y(one.right)}" for one in run]
        return f"M{'L'.join(ends)}"

    def area(self, run: Sequence[Slope], top_ms: int = 0) -> str:
        top = self.y(top_ms)
        return f"M{self.x(run[0].start)} {top}L{self.line(run)[1:]}L{self.x(run[-1].stop)} {top}Z"

    def box(self, slope: Slope) -> dict[str, str | float]:
        width = (slope.stop - slope.start) / _HOUR_MS
        return {"x": self.x(slope.start), "width": round(width, 2), "y": 0, "height": DEPTH}


def _late(told: Sequence[Slope], limit: Deadlines) -> Iterator[tuple[list[Slope], int]]:
    """Yield the parts of cells that lie deeper than the deadline, neighbours together, with the deadline."""
    for (night, _), run in groupby(_by_limit(told, limit), key=itemgetter(0)):
        allowed = limit.night_ms if night else limit.day_ms
        parts = []
        for _, slope in run:
            if slope.left is not None and slope.right is not None and slope.left > allowed:
                stop = slope.stop if slope.right >= allowed else slope.start + slope.left - allowed
                parts.append(Slope(slope.start, stop, slope.left, max(slope.right, allowed)))
        yield from ((each, allowed) for each in runs(parts))


def _by_limit(told: Sequence[Slope], limit: Deadlines) -> Iterator[tuple[tuple[bool, int], Slope]]:
    """Yield cells, cut where the deadline changes, with whether it is night and the number of the stretch."""
    edges = np.unique(np.concatenate(limit.nights))
    for slope in told:
        inner = edges[(edges > slope.start) & (edges < slope.stop)].tolist()
        for start, stop in pairwise([slope.start, *inner, slope.stop]):
            at = np.array([start], np.int64)
            key = bool(limit.by_night(at)[0]), int(np.searchsorted(edges, start, "right"))
            yield key, _part(slope, start, stop)


def _part(slope: Slope, start: int, stop: int) -> Slope:
    if slope.left is None or slope.right is None:
        return Slope(start, stop, None, None)
    falls = slope.left > slope.right
    return Slope(start, stop, slope.left - (start - slope.start) * falls, slope.right + (slope.stop - stop) * falls)


def _nights(limit: Deadlines, scale: _Scale) -> Iterator[str]:
    for start, end in zip(*map(np.ndarray.tolist, limit.nights), strict=True):
        left, right = max(start, scale.week[0]), min(end, scale.week[1])
        if left < right:
            yield tag("rect", **scale.box(Slope(left, right, 0, 0)), class_="night")


def _deadline(limit: Deadlines, scale: _Scale) -> Iterator[str]:
    edges = np.concatenate([np.array(scale.week, np.int64), *limit.nights])
    edges = np.unique(edges[(edges >= scale.week[0]) & (edges <= scale.week[1])])
    pieces = []
    for start, stop in zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True):
        at = np.array([start], np.int64)
        if not limit.only_at_night or limit.by_night(at)[0]:
            within = int(limit.at(at)[0])
            pieces.append(Slope(start, stop, within, within))
    yield from (tag("path", d=scale.line(run), class_="deadline") for run in runs(pieces))


def _deepest(slope: Slope) -> int:
    return max(slope.left or 0, slope.right or 0)
