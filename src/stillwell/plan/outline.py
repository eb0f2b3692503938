"""Outlines of rooms: do they cross themselves, and by how much do two of them overlap?

Corners are rounded to whole micrometres, and all but the final areas is then exact whole-number arithmetic.
"""

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise
from typing import TypeAlias

Corner: TypeAlias = tuple[int, int]
Edge: TypeAlias = tuple[Corner, Corner]

_UM_PER_M = 1_000_000
_UM2_PER_M2 = _UM_PER_M**2


def corners_um(outline: Sequence[tuple[float, float]]) -> list[Corner]:
    """Return the corners in micrometres; a last corner that repeats the first is left out."""
    corners = [(round(east * _UM_PER_M), round(north * _UM_PER_M)) for east, north in outline]
    return corners[:-1] if len(corners) > 1 and corners[0] == corners[-1] else corners


def area_m2(outline: Sequence[tuple[float, float]]) -> float:
    """Return the area of a simple outline in square metres."""
    corners = corners_um(outline)
    twice = sum(_cross(first, second) for first, second in _edges(corners))
    return abs(twice) / 2 / _UM2_PER_M2


def first_crossing(outline: Sequence[tuple[float, float]]) -> tuple[int, int] | None:
    """Return the numbers (from 0) of two walls that cross, touch or run over each other, or None.

    Wall n runs from corner n to the next. Two walls that follow each other may share their corner, no more; a wall
    between two corners in one place is returned twice.
    """
    edges = _edges(corners_um(outline))
    for number, edge in enumerate(edges):
        if edge[0] == edge[1]:
            return number, number
    for number, edge in enumerate(edges):
        for other in range(number + 1, len(edges)):
            follows = other == number + 1
            closes = number == 0 and other == len(edges) - 1
            if follows or closes:
                corner, before, after = (
                    (edge[1], edge[0], edges[other][1]) if follows else (edge[0], edges[other][0], edge[1])
                )
                if _turn(before, corner, after) == 0 and _dot(corner, before, after) > 0:
                    return number, other
            elif _touch(edge, edges[other]):
                return number, other
    return None


def overlap_m2(first: Sequence[tuple[float, float]], second: Sequence[tuple[float, float]]) -> float:
    """Return the area in square metres that two simple outlines have in common; shared walls have none.

    The common area is cut at every corner and every crossing into upright strips. Within a strip no walls cross,
    so its common height changes evenly and the height in its middle times its width is its area.
    """
    ours, theirs = _edges(corners_um(first)), _edges(corners_um(second))
    if _apart(ours, theirs):
        return 0.0
    cuts = {Fraction(corner[0]) for edge in (*ours, *theirs) for corner in edge}
    for edge in ours:
        cuts.update(cut for other in theirs for cut in _crossing_x(edge, other))
    total = Fraction(0)
    for left, right in pairwise(sorted(cuts)):
        middle = (left + right) / 2
        total += (right - left) * _common(_inside(ours, middle), _inside(theirs, middle))
    return float(total / _UM2_PER_M2)


def _edges(corners: Sequence[Corner]) -> list[Edge]:
    return list(zip(corners, (*corners[1:], corners[0]), strict=True))


def _apart(ours: Sequence[Edge], theirs: Sequence[Edge]) -> bool:
    """Whether the upright boxes around two outlines have no area in common."""
    return any(
        max(edge[0][axis] for edge in one) <= min(edge[0][axis] for edge in other)
        for axis in (0, 1)
        for one, other in ((ours, theirs), (theirs, ours))
    )


def _inside(edges: Sequence[Edge], x: Fraction) -> list[Fraction]:
    """Where the upright line at ``x`` crosses the walls, lowest first; it is inside between each odd and even."""
    heights = []
    for (x1, y1), (x2, y2) in edges:
        if min(x1, x2) < x < max(x1, x2):
            heights.append(y1 + (x - x1) * Fraction(y2 - y1, x2 - x1))
    return sorted(heights)


def _common(ours: Sequence[Fraction], theirs: Sequence[Fraction]) -> Fraction:
    total = Fraction(0)
    for low, high in zip(ours[::2], ours[1::2], strict=True):
        for other_low, other_high in zip(theirs[::2], theirs[1::2], strict=True):
            total += max(Fraction(0), min(high, other_high) - max(low, other_low))
    return total


def _crossing_x(first: Edge, second: Edge) -> list[Fraction]:
    """The east of the one point where two walls cross; none where they run alike."""
    (x1, y1), (x2, y2) = first
    (x3, y3), (x4, y4) = second
    across = (x2 - x1) * (y4 - y3) - (y2 - y1) * (x4 - x3)
    if across == 0 or not _touch(first, second):
        return []
    along = Fraction((x3 - x1) * (y4 - y3) - (y3 - y1) * (x4 - x3), across)
    return [x1 + along * (x2 - x1)]


def _touch(first: Edge, second: Edge) -> bool:
    (a, b), (c, d) = first, second
    if any(
        max(a[axis], b[axis]) < min(c[axis], d[axis]) or max(c[axis], d[axis]) < min(a[axis], b[axis])
        for axis in (0, 1)
    ):
        return False
    return _turn(a, b, c) * _turn(a, b, d) <= 0 and _turn(c, d, a) * _turn(c, d, b) <= 0


def _turn(a: Corner, b: Corner, c: Corner) -> int:
    """Which way the path a, b, c turns: 1 left, -1 right, 0 straight on or back."""
    turn = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
    return (turn > 0) - (turn < 0)


def _dot(at: Corner, first: Corner, second: Corner) -> int:
    return (first[0] - at[0]) * (second[0] - at[0]) + (first[1] - at[1]) * (second[1] - at[1])


def _cross(first: Corner, second: Corner) -> int:
    return first[0] * second[1] - first[1] * second[0]
