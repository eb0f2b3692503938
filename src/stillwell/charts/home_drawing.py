"""The rooms, openings and parts of a home drawn to scale, a drawing for each storey."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from math import hypot
from typing import Final, TypeAlias

from stillwell.charts.part_marks import RADIUS, part_labels, part_mark
from stillwell.charts.svg import tag, text, title
from stillwell.plan.model import Part, Plan
from stillwell.wording.vocabulary import spaced

PIXELS_A_METRE: Final = 64
_MARGIN: Final = 40
_APART: Final = 2 * RADIUS + 6
_ROUNDS: Final = 80
_MOVED: Final = 8.0
_LETTER_WIDE, _NAME_HIGH = 10, 18
_STEPS: Final = range(-168, 169, 12)
_TRIED: Final = sorted(product(_STEPS, _STEPS), key=lambda by: (hypot(*by), by))
"""By how many pixels a name may stand off the middle of its room, the nearest first."""


Spot: TypeAlias = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Storey:
    """One storey drawn, so many pixels wide and high."""

    number: int
    drawing: str
    width: int
    height: int


def home_drawings(plan: Plan) -> list[Storey]:
    """Return the storeys that have rooms, the lowest first; none where the plan has no rooms."""
    numbers = sorted({room.storey for room in plan.rooms.values()})
    return [_Drawing(plan, number).storey() for number in numbers]


def unplaced_parts(plan: Plan) -> list[str]:
    """Return the parts that are drawn nowhere: worn, carried, or with neither place nor room."""
    drawn = {name for number in {room.storey for room in plan.rooms.values()} for name in _Drawing(plan, number).spots}
    return [name for name in plan.parts if name not in drawn]


class _Drawing:
    def __init__(self, plan: Plan, number: int) -> None:
        self.plan = plan
        self.number = number
        self.rooms = {name: room for name, room in plan.rooms.items() if room.storey == number}
        corners = [corner for room in self.rooms.values() for corner in room.outline]
        self.west = min(east for east, _ in corners)
        self.north = max(north for _, north in corners)
        self.width = round((max(east for east, _ in corners) - self.west) * PIXELS_A_METRE) + 2 * _MARGIN
        self.height = round((self.north - min(north for _, north in corners)) * PIXELS_A_METRE) + 2 * _MARGIN + 30
        self.spots = {name: spot for name, part in plan.parts.items() if (spot := self._spot(part)) is not None}
        self.moved = apart(self.spots)

    def storey(self) -> Storey:
        drawing = tag(
            "svg",
            [
                title(f"Plan of {self.plan.home.name}" + (f", storey {self.number}" if self.number else "")),
                *self._rooms(),
                *self._openings(),
                *self._names(),
                *self._parts(),
                *self._scale(),
            ],
            viewBox=f"0 0 {self.width} {self.height}",
            width=self.width,
            height=self.height,
            class_="ground",
            role="img",
        )
        return Storey(self.number, drawing, self.width, self.height)

    def at(self, spot: Sequence[float]) -> Spot:
        """Return the pixels of a place in metres."""
        return (
            (spot[0] - self.west) * PIXELS_A_METRE + _MARGIN,
            (self.north - spot[1]) * PIXELS_A_METRE + _MARGIN,
        )

    def _rooms(self) -> Iterator[str]:
        for room in self.rooms.values():
            points = " ".join(f"{x:.1f},{y:.1f}" for x, y in map(self.at, room.outline))
            yield tag("polygon", points=points, class_="room outside" if room.use.startswith("outside") else "room")

    def _names(self) -> Iterator[str]:
        for name, room in self.rooms.items():
            x, y = self._room_for(spaced(name), self.at(middle(room.outline)), [*map(self.at, room.outline)])
            yield tag("text", [text(spaced(name))], x=round(x, 1), y=round(y, 1), text_anchor="middle", class_="name")

    def _room_for(self, name: str, wanted: Spot, corners: Sequence[Spot]) -> Spot:
        """Return the place nearest to the one wanted where a name covers no mark and stays within its room."""
        half = len(name) * _LETTER_WIDE / 2
        left, right = min(x for x, _ in corners) + half, max(x for x, _ in corners) - half
        top, foot = min(y for _, y in corners) + _NAME_HIGH + 4, max(y for _, y in corners) - 6
        for across, down in _TRIED:
            x, y = wanted[0] + across, wanted[1] + down
            if left <= x <= right and top <= y <= foot and not self._covered(x, y - _NAME_HIGH / 3, half):
                return x, y
        return wanted

    def _covered(self, x: float, y: float, half: float) -> bool:
        wide, high = half + RADIUS + 4, RADIUS + _NAME_HIGH / 2 + 2
        return any(abs(x - other_x) < wide and abs(y - other_y) < high for other_x, other_y in self.moved.values())

    def _openings(self) -> Iterator[str]:
        for name, opening in self.plan.openings.items():
            if opening.place is not None and any(room in self.rooms for room in opening.rooms):
                first, second = (self.at(edge) for edge in opening.place)
                drawn = _door(first, second) if opening.kind == "door" else _window(first, second)
                yield tag("g", [title(spaced(name)), _line(first, second, "gap"), *drawn])

    def _parts(self) -> Iterator[str]:
        labels = part_labels(self.plan.parts)
        moved = self.moved
        for name, (x, y) in self.spots.items():
            (to_x, to_y) = moved[name]
            if abs(to_x - x) + abs(to_y - y) > _MOVED:
                yield _line((x, y), (to_x, to_y), "leader")
                yield tag("circle", cx=round(x, 1), cy=round(y, 1), r=2.5, class_="spot")
        for name, (x, y) in moved.items():
            part = self.plan.parts[name]
            yield part_mark(part.kind, labels[name], f"{labels[name]}: {spaced(name)}, {part.kind}", x, y)

    def _spot(self, part: Part) -> Spot | None:
        """Return where a part hangs, in pixels: its place, the middle of its door or window, or its room's."""
        opening = self.plan.openings.get(part.opening or "")
        room = part.room or next((name for name in (opening.rooms if opening else ()) if name in self.rooms), None)
        if room not in self.rooms:
            return None
        if part.place is not None:
            return self.at(part.place)
        if opening is not None and opening.place is not None:
            (a, b), (c, d) = opening.place
            return self.at(((a + c) / 2, (b + d) / 2))
        x, y = self.at(middle(self.rooms[room].outline))
        return x, y + RADIUS + 8

    def _scale(self) -> Iterator[str]:
        left, foot = _MARGIN, self.height - 16
        yield tag("path", d=f"M{left} {foot - 5}V{foot}H{left + 2 * PIXELS_A_METRE}V{foot - 5}", class_="scale")
        yield tag("text", ["2 m"], x=left + 2 * PIXELS_A_METRE + 8, y=foot, class_="name")
        x = self.width - _MARGIN
        yield tag(
            "path", d=f"M{x} {foot}V{foot - 28}M{x - 6} {foot - 18}L{x} {foot - 28}L{x + 6} {foot - 18}", class_="scale"
        )
        yield tag("text", ["north"], x=x - 10, y=foot, text_anchor="end", class_="name")


def _line(first: Spot, second: Spot, look: str) -> str:
    (x1, y1), (x2, y2) = first, second
    return tag("line", x1=round(x1, 1), y1=round(y1, 1), x2=round(x2, 1), y2=round(y2, 1), class_=look)


def _beside(first: Spot, second: Spot, far: float) -> Spot:
    """Return the way to go aside from the line from one spot to the other by so many pixels."""
    across, down = second[0] - first[0], second[1] - first[1]
    wide = hypot(across, down) or 1.0
    return -down / wide * far, across / wide * far


def _door(first: Spot, second: Spot) -> Iterator[str]:
    """Yield the two ends of the wall and the threshold between them."""
    x, y = _beside(first, second, 6)
    yield _line(first, second, "threshold")
    for end in (first, second):
        yield _line((end[0] - x, end[1] - y), (end[0] + x, end[1] + y), "post")


def _window(first: Spot, second: Spot) -> Iterator[str]:
    """Yield the two panes."""
    for far in (-3, 3):
        x, y = _beside(first, second, far)
        yield _line((first[0] + x, first[1] + y), (second[0] + x, second[1] + y), "pane")


def middle(outline: Sequence[Sequence[float]]) -> Spot:
    """Return the centre of gravity of an outline, or where it lies outside the middle of the widest stretch inside."""
    corners = list(zip(outline, [*outline[1:], outline[0]], strict=True))
    twice = sum(a[0] * b[1] - b[0] * a[1] for a, b in corners)
    if not twice:
        return outline[0][0], outline[0][1]
    east = sum((a[0] + b[0]) * (a[0] * b[1] - b[0] * a[1]) for a, b in corners) / (3 * twice)
    north = sum((a[1] + b[1]) * (a[0] * b[1] - b[0] * a[1]) for a, b in corners) / (3 * twice)
    crossings = sorted(
        a[0] + (north - a[1]) * (b[0] - a[0]) / (b[1] - a[1])
        for a, b in corners
        if min(a[1], b[1]) < north < max(a[1], b[1])
    )
    inside = list(zip(crossings[::2], crossings[1::2], strict=False))
    if any(left <= east <= right for left, right in inside) or not inside:
        return east, north
    left, right = max(inside, key=lambda stretch: stretch[1] - stretch[0])
    return (left + right) / 2, north


def apart(spots: Mapping[str, Spot]) -> dict[str, Spot]:
    """Push marks apart that would cover each other, each as far as the other."""
    places = {name: [x, y] for name, (x, y) in spots.items()}
    names = list(places)
    for _ in range(_ROUNDS):
        still = True
        for number, name in enumerate(names):
            for other in names[number + 1 :]:
                one, two = places[name], places[other]
                across, down = two[0] - one[0], two[1] - one[1]
                far = hypot(across, down)
                if far < _APART:
                    still = False
                    if not far:
                        across, down, far = 0.0, 1.0, 1.0
                    push = (_APART - far) / 2 + 0.5
                    for axis, part in ((0, across / far), (1, down / far)):
                        one[axis] -= part * push
                        two[axis] += part * push
        if still:
            break
    return {name: (x, y) for name, (x, y) in places.items()}
