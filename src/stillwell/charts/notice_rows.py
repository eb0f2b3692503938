"""The rows of a panel of notice time: exact corners of its lines, nights, deadlines and marks."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final
from zoneinfo import ZoneInfo

import numpy as np

from stillwell.civiltime import Span, local_datetime
from stillwell.proof.curve import NEVER, Curve
from stillwell.proof.deadlines import WEEK_MS, Deadlines, counted

DAYS: Final = 7
LINES: Final = ("nothing broken", "one thing broken", "deadline")
_HOUR_MS: Final = 3_600_000
_UNITS: Final = (("hours", 3_600_000), ("minutes", 60_000), ("seconds", 1000))
_FEWEST_OF_A_UNIT: Final = 2
_HEADROOM: Final = 1.12
_BAND: Final = 0.16
"""The height of the band for never, as a share of the rest."""

_OFF_THE_SCALE: Final = 2.5
_CUT_OFF_AT: Final = 2.0
"""Where one broken thing makes it so many times longer, the line leaves the panel, which then ends at so much."""

_REMARK_AT: Final = 0.9


@dataclass(frozen=True, slots=True)
class Panel:
    """One hazard: its curve, its deadlines, an onset that is worst and what is said of it.

    ``broken``: the curve with one thing broken that is drawn too. ``never`` is said in the band for never, if
    anything.
    """

    title: str
    told: Curve
    limit: Deadlines
    worst_ms: int
    worst_said: str
    said: str
    broken: Curve | None = None
    broken_said: str = ""
    never: str = ""


class Rows:
    """The rows of one panel, in hours of the week across and in the panel's unit up."""

    def __init__(self, panel: Panel, zone: ZoneInfo) -> None:
        self.panel = panel
        self.zone = zone
        self.week = week_of(panel, zone)
        limit = panel.limit
        self.told = [one for curve in counted(panel.told, limit) for one in self._in_week(curve)]
        broken = [] if panel.broken is None else counted(panel.broken, limit)
        self.broken = [one for curve in broken for one in self._in_week(curve)]
        plain = max(limit.night_ms, 0 if limit.only_at_night else limit.day_ms, *map(_longest, self.told))
        highest = max([plain, *map(_longest, self.broken)])
        self.cut_off = highest > _OFF_THE_SCALE * plain
        longest = plain * _CUT_OFF_AT if self.cut_off else highest
        self.unit, self.unit_ms = next((one for one in _UNITS if longest >= _FEWEST_OF_A_UNIT * one[1]), _UNITS[-1])
        self.floor = longest / self.unit_ms * (1.0 if self.cut_off else _HEADROOM)
        self.top = self.floor * (1 + _BAND)
        curves = [*self.told, *self.broken]
        self.has_never = bool(panel.never) or any((curve.value == NEVER).any() for curve in curves)

    def _in_week(self, curve: Curve) -> list[Curve]:
        start, end = max(int(curve.points[0]), self.week[0]), min(curve.end, self.week[1])
        return [curve.between(start, end)] if start < end else []

    def x(self, at_ms: int) -> float:
        return round((at_ms - self.week[0]) / _HOUR_MS, 5)

    def title(self) -> str:
        begin, end = int(self.panel.told.points[0]), self.panel.told.end
        if end - begin <= WEEK_MS:
            return "it begins on"
        local = local_datetime(self.zone, self.week[0])
        return f"it begins in the week of {local.day} {local:%b %Y}"

    @property
    def in_band(self) -> float:
        return (self.floor + self.top) / 2

    def nights(self) -> Iterator[dict[str, Any]]:
        for start, end in zip(*map(np.ndarray.tolist, self.panel.limit.nights), strict=True):
            left, right = max(start, self.week[0]), min(end, self.week[1])
            if left < right:
                yield {"x": self.x(left), "x2": self.x(right), "y": 0, "y2": self.floor}

    def band(self) -> Iterator[dict[str, Any]]:
        if self.has_never:
            yield {"x": 0, "x2": DAYS * 24, "y": self.floor, "y2": self.top}

    def band_names(self) -> Iterator[dict[str, Any]]:
        if self.has_never:
            yield {"x": 0, "y": self.in_band, "text": "never"}

    def remarks(self) -> Iterator[dict[str, Any]]:
        if self.panel.never:
            yield {"x": DAYS * 24 - 1, "y": self.in_band, "text": self.panel.never, "side": "right"}
        if self.cut_off:
            yield {
                "x": self.x(self._leaves()) + 1,
                "y": self.floor * _REMARK_AT,
                "text": f"up to {self.panel.broken_said}",
                "side": "left",
            }

    def _leaves(self) -> int:
        """Return the onset at which the line of what is broken first leaves the panel within sight."""
        heights = [row for curve in self.broken for row in _highest(curve)]
        above = [height > self.floor * self.unit_ms for _, height in heights]
        rises = [onset for (onset, _), now, before in zip(heights[1:], above[1:], above, strict=False) if now > before]
        return rises[0] if rises else self.week[0]

    def lines(self) -> Iterator[dict[str, Any]]:
        for name, curves in ((LINES[1], self.broken), (LINES[0], self.told)):
            run = 0
            for curve in curves:
                for points in self._runs(curve):
                    run += 1
                    for index, (onset, height) in enumerate(points):
                        yield {
                            "x": self.x(onset),
                            "y": round(height, 5),
                            "line": name,
                            "run": f"{name} {run}",
                            "i": index,
                        }

    def _runs(self, curve: Curve) -> Iterator[list[tuple[int, float]]]:
        """Yield lines as (onset, height) of their corners: broken at never, and where they leave the panel."""
        corners: list[tuple[int, float]] = []
        cells = (curve.points.tolist(), curve.stops().tolist(), curve.fixed.tolist(), curve.value.tolist())
        was_never = False
        for start, stop, fixed, value in zip(*cells, strict=True):
            ends = self._segment(start, stop, value, fixed=fixed)
            leaves = not ends or (value != NEVER and ends[0][0] > start)
            if corners and ((value == NEVER) != was_never or leaves):
                yield [*corners, (start, self.floor)] if leaves and not was_never else corners
                corners = []
            was_never = value == NEVER
            corners += ends
        if corners:
            yield corners

    def _segment(self, start: int, stop: int, value: int, *, fixed: bool) -> list[tuple[int, float]]:
        """Return the ends of a cell's segment within the panel; none where all of it is above."""
        if value == NEVER:
            return [(start, self.in_band), (stop, self.in_band)]
        left, right = (value - start, value - stop) if fixed else (value, value)
        ceiling = self.floor * self.unit_ms
        if right > ceiling:
            return []
        if left > ceiling:  # it falls: it comes in from above
            return [(round(value - ceiling), self.floor), (stop, right / self.unit_ms)]
        return [(start, left / self.unit_ms), (stop, right / self.unit_ms)]

    def deadlines(self) -> Iterator[dict[str, Any]]:
        limit, (begin, end) = self.panel.limit, self.week
        edges = np.concatenate([np.array([begin, end], np.int64), *limit.nights])
        edges = np.unique(edges[(edges >= begin) & (edges <= end)])
        starts, stops = edges[:-1], edges[1:]
        rows = zip(starts.tolist(), stops.tolist(), limit.at(starts).tolist(), limit.by_night(starts), strict=True)
        for start, stop, within, night in rows:
            if night or not limit.only_at_night:
                yield {"x": self.x(start), "x2": self.x(stop), "y": within / self.unit_ms, "line": LINES[2]}

    def worst(self) -> Iterator[dict[str, Any]]:
        onset = np.array([min(max(self.panel.worst_ms, self.week[0]), self.week[1] - 1)], np.int64)
        told = int(self.panel.told.at(onset)[0])
        height = self.in_band if told == NEVER else (told - int(onset[0])) / self.unit_ms
        # set in a little at the edge, so that the mark is whole
        text = "" if told == NEVER else self.panel.worst_said
        yield {"x": max(self.x(int(onset[0])), 0.6), "y": height, "text": text}


def week_of(panel: Panel, zone: ZoneInfo) -> Span:
    """Return the week that is drawn: the one that was proved or, of a whole year, the one about the worst onset."""
    begin, end = int(panel.told.points[0]), panel.told.end
    if end - begin <= WEEK_MS:
        return begin, end
    local = local_datetime(zone, panel.worst_ms)
    back = ((local.weekday() * 24 + local.hour) * 60 + local.minute) * 60_000 + panel.worst_ms % 60_000
    start = min(max(panel.worst_ms - back, begin), end - WEEK_MS)
    return start, start + WEEK_MS


def _highest(curve: Curve) -> list[tuple[int, int]]:
    """Return (onset, notice time) at the left end of each cell in which somebody is told."""
    told = curve.value != NEVER
    heights = np.where(curve.fixed, np.where(told, curve.value, 0) - curve.points, curve.value)
    return list(zip(curve.points[told].tolist(), heights[told].tolist(), strict=True))


def _longest(curve: Curve) -> int:
    return max((height for _, height in _highest(curve)), default=0)
