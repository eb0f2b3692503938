"""How often an alarm is false against how soon it comes: ways to set limits side by side, so that one can be picked."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import log
from typing import Any, Final

from stillwell.charts.desk import altair, specification
from stillwell.charts.labels import Spot, place
from stillwell.charts.palette import INK, MARKS, PAPER, QUIET_INK, SHADES, SHAPES, SMALL

HALF: Final = "the alarm comes within, half the time"
MOST: Final = "the alarm comes within, 19 times in 20"
"""Titles of the two panels that matter: the median, and the 95 % notice time."""

WIDTH: Final = 500
HEIGHT: Final = 460
_LOOKS: Final = tuple(
    zip((INK, SHADES[1], *(colour for colour, _ in MARKS[1:])), (*SHAPES, "triangle-left"), strict=True)
)
"""Colour and shape of each of eight ways, in order: ink, grey, then marks; madder is kept for what is wrong."""
_ROOT: Final = 1 / 3
"""The power of the axis across: seldom alarms have room, and none at all has a place too."""
_FALSE: Final = (0, 0.1, 0.5, 1, 2, 4, 8, 16, 32)
_HOURS: Final = (0.25, 0.5, 1, 2, 3, 4, 5, 6, 8, 10, 12, 16, 24, 36)
_EDGE: Final = 1.06
"""What is beyond the last figure of an axis stands so far from it, and says in its name how far it is."""
_ROOM: Final = 1.12


@dataclass(frozen=True, slots=True)
class Point:
    """One setting: false alarms in 30 days, and hours until the alarm (None: it never comes).

    ``name`` stands beside it. What is ``chosen`` stands out, with the interval in which the true rate may lie.
    """

    false: float
    hours: float | None
    name: str = ""
    chosen: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class Way:
    """A way to set limits, its settings in order. Where there are several a line joins them and the key names the way;
    a single one has the way's name beside it."""

    name: str
    points: tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class Panel:
    """All ways by one measure of how soon the alarm comes, which ``title`` says."""

    title: str
    ways: tuple[Way, ...]


class _Scales:
    """The axes: a root across and equal ratios up, the same in all panels; in figures and in pixels."""

    def __init__(self, points: Sequence[Point]) -> None:
        false = [_within(point.false, _FALSE) for point in points]
        hours = [_within(point.hours, _HOURS) for point in points]
        self.false = (0.0, max([1.0, *false]) * _ROOM)
        self.hours = (min([4.0, *hours]) / _ROOM, max([12.0, *hours]) * _ROOM)

    def spot(self, point: Point, name: str = "") -> Spot:
        shortest, longest = self.hours
        up = log(_within(point.hours, _HOURS) / shortest) / log(longest / shortest)
        return Spot(WIDTH * (_within(point.false, _FALSE) / self.false[1]) ** _ROOT, HEIGHT * (1 - up), name)


def trade_off(panels: Sequence[Panel], title: str, subtitle: Sequence[str]) -> dict[str, Any]:
    """Return the Vega-Lite specification. Raises Refusal where charts cannot be drawn.

    Further left is more seldom false, further down is sooner. All panels show the same ways.
    """
    alt = altair()
    scales = _Scales([point for panel in panels for way in panel.ways for point in way.points])
    joined = list(dict.fromkeys(way.name for panel in panels for way in panel.ways if len(way.points) > 1))
    data: dict[str, list[dict[str, Any]]] = {}
    drawn = []
    for number, panel in enumerate(panels):
        data[f"points{number}"] = list(_points(panel))
        data[f"names{number}"] = list(_names(panel, scales, joined))
        layers = _layers(alt, panel, scales, joined, (f"points{number}", f"names{number}"))
        drawn.append(alt.layer(*layers).properties(width=WIDTH, height=HEIGHT))
    head = alt.Title(title, subtitle=list(subtitle))
    return specification(alt.hconcat(*drawn, spacing=28).properties(title=head), data)


def _layers(alt: Any, panel: Panel, scales: _Scales, joined: Sequence[str], data: tuple[str, str]) -> Iterator[Any]:
    points, names = data
    x = alt.X(
        "false:Q",
        scale=alt.Scale(type="pow", exponent=_ROOT, domain=scales.false, nice=False),
        axis=alt.Axis(
            title="false alarms in 30 days",
            values=[each for each in _FALSE if each <= scales.false[1]],
            labelExpr="datum.value",
            labelFlush=False,
        ),
    )
    y = alt.Y(
        "hours:Q",
        scale=alt.Scale(type="log", domain=scales.hours, nice=False),
        axis=alt.Axis(
            title=panel.title,
            values=[each for each in _HOURS if scales.hours[0] <= each <= scales.hours[1]],
            labelExpr="datum.value < 1 ? datum.value * 60 + ' min' : datum.value + ' h'",
            labelPadding=14,
        ),
    )
    ways = [way.name for way in panel.ways]
    key = alt.Legend(title=None, orient="top", values=list(joined)) if joined else None
    colours, shapes = zip(*_LOOKS[: len(ways)], strict=True)
    color = alt.Color("way:N", scale=alt.Scale(domain=ways, range=list(colours)), legend=key)
    shape = alt.Shape("way:N", scale=alt.Scale(domain=ways, range=list(shapes)), legend=key)
    drawn = alt.Chart(alt.NamedData(name=points))
    chosen = drawn.transform_filter("datum.chosen")
    yield drawn.mark_line(strokeWidth=1.5).encode(x=x, y=y, color=color, order="i:Q")
    yield chosen.mark_rule(strokeWidth=1, color=QUIET_INK).encode(x=alt.X("low:Q"), x2="high:Q", y=y)
    yield drawn.mark_point(filled=True, size=80, opacity=1, stroke=PAPER, strokeWidth=1).encode(
        x=x, y=y, color=color, shape=shape
    )
    yield chosen.mark_point(size=260, opacity=1, stroke=INK, strokeWidth=1.5).encode(x=x, y=y)
    yield from _text(alt, alt.Chart(alt.NamedData(name=names)))


def _points(panel: Panel) -> Iterator[dict[str, Any]]:
    for way in panel.ways:
        for number, point in enumerate(way.points):
            low, high = point.chosen or (point.false, point.false)
            yield {
                "way": way.name,
                "i": number,
                "false": _within(point.false, _FALSE),
                "hours": _within(point.hours, _HOURS),
                "chosen": point.chosen is not None,
                "low": _within(low, _FALSE),
                "high": _within(high, _FALSE),
            }


def _names(panel: Panel, scales: _Scales, joined: Sequence[str]) -> Iterator[dict[str, Any]]:
    """Yield the names beside the points, in pixels; those of the chosen are placed first."""
    named = [
        (point, _name(point.name or ("" if way.name in joined else way.name), point))
        for way in panel.ways
        for point in way.points
    ]
    named.sort(key=lambda each: each[0].chosen is None)
    spots = [scales.spot(point, name) for point, name in named]
    lines = [[scales.spot(point) for point in way.points] for way in panel.ways]
    lines += [
        [scales.spot(Point(end, point.hours)) for end in point.chosen] for point, _ in named if point.chosen is not None
    ]
    for (point, name), spot, placed in zip(named, spots, place(spots, lines, (WIDTH, HEIGHT), SMALL), strict=True):
        if placed is not None:
            yield {
                "name": name,
                "chosen": point.chosen is not None,
                "x": placed.x,
                "y": placed.y,
                "align": placed.align,
                "leader": placed.leader,
                "to_x": spot.x,
                "to_y": spot.y,
            }


def _name(name: str, point: Point) -> str:
    """Return the name of a point with what cannot be read off where it is beyond an axis."""
    beyond = []
    if point.false > _FALSE[-1]:
        beyond.append(f"{point.false:.0f} in 30 d")
    if point.hours is None:
        beyond.append("never")
    elif point.hours > _HOURS[-1]:
        beyond.append(f"{point.hours:.0f} h")
    return f"{name}: {', '.join(beyond)}" if name and beyond else name


def _within(value: float | None, axis: Sequence[float]) -> float:
    """Return where a figure stands on an axis: beyond its end just outside, and not below its beginning."""
    beyond = axis[-1] * _EDGE
    return beyond if value is None or value > axis[-1] else max(value, axis[0])


def _text(alt: Any, names: Any) -> Iterator[Any]:
    """Yield the lines that lead to names, and each name twice, first as a rim of paper."""

    def at(across: str, up: str) -> dict[str, Any]:
        return {"x": alt.X(f"{across}:Q", scale=None, axis=None), "y": alt.Y(f"{up}:Q", scale=None, axis=None)}

    leaders = names.transform_filter("datum.leader")
    yield leaders.mark_rule(color=QUIET_INK, strokeWidth=0.75).encode(**at("to_x", "to_y"), x2="x:Q", y2="y:Q")
    for look in ({"stroke": PAPER, "strokeWidth": 4, "color": PAPER}, {"color": INK}):
        yield names.mark_text(
            fontSize=SMALL,
            fontWeight=alt.expr("datum.chosen ? 'bold' : 'normal'"),
            baseline="middle",
            align=alt.expr("datum.align"),
            **look,
        ).encode(**at("x", "y"), text="name:N")
