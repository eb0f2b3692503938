"""Where the names of points go, so that none stands on another, on a point or out of the picture."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import copysign, hypot
from typing import Final

_WIDE: Final = 0.52
_HIGH: Final = 1.15
"""The mean width and the height of a letter as shares of the type's size, a sans serif's."""
_AWAY: Final = (9.0, 15.0, 23.0, 33.0, 45.0, 60.0, 78.0)
_SIDES: Final = (
    *((1, 0), (-1, 0), (0, -1), (0, 1)),
    *((1, -1), (1, 1), (-1, -1), (-1, 1)),
    *((1, -2), (1, 2), (-1, -2), (-1, 2), (2, -1), (2, 1), (-2, -1), (-2, 1)),
)
"""Across and down; of those that do equally well the first is taken."""
_LEADER_FROM: Final = 20.0
"""From so far away on a fine line leads from a name to its point."""
_RISE: Final = 0.4
"""A name above or below stands so much of its height further off, for it is placed by its middle."""
_POINT: Final = 6.0
_OUTSIDE, _ON_A_NAME, _THROUGH_A_NAME, _ON_A_POINT, _ON_A_LINE = 20_000.0, 2000.0, 300.0, 150.0, 25.0
"""What is bad, in pixels that a name may be further away to be spared it."""
_MOST_ON_A_LINE: Final = 5
_STEP: Final = 4.0


@dataclass(frozen=True, slots=True)
class Spot:
    """A point in pixels from the upper left of the picture, and its name, if it is to have one."""

    x: float
    y: float
    name: str = ""


@dataclass(frozen=True, slots=True)
class Placed:
    """Where a name stands: beginning (``align`` "left"), ending ("right") or in the middle at ``x``, its middle at
    height ``y``; ``leader``: it is so far away that a line must lead to it."""

    x: float
    y: float
    align: str
    leader: bool


@dataclass(frozen=True, slots=True)
class _Box:
    left: float
    top: float
    right: float
    bottom: float

    def holds(self, x: float, y: float, around: float = 0.0) -> bool:
        return self.left - around <= x <= self.right + around and self.top - around <= y <= self.bottom + around

    def shared(self, other: "_Box") -> bool:
        return (
            self.left < other.right and other.left < self.right and self.top < other.bottom and other.top < self.bottom
        )


def place(
    spots: Sequence[Spot], lines: Sequence[Sequence[Spot]], extent: tuple[float, float], size: float
) -> list[Placed | None]:
    """Return where the name of each spot goes, in the order in which they matter; None where it has none.

    ``lines`` join spots, and are kept clear where that costs little. ``extent`` is the picture's width and height,
    ``size`` the type's, in pixels.
    """
    along = [each for line in lines for pair in pairwise(line) for each in _between(*pair)]
    taken: list[_Box] = []
    found: list[Placed | None] = []
    for spot in spots:
        if not spot.name:
            found.append(None)
            continue
        tried = list(_candidates(spot, size))
        _, placed, box = min(
            ((_cost(away, placed, box, spot, spots, taken, along, extent), placed, box) for away, placed, box in tried),
            key=lambda each: each[0],
        )
        taken.append(box)
        found.append(placed)
    return found


def _candidates(spot: Spot, size: float) -> Iterator[tuple[float, Placed, _Box]]:
    wide, high = len(spot.name) * _WIDE * size, _HIGH * size
    for away in _AWAY:
        for across, down in _SIDES:
            share = away / hypot(across, down)
            x, y = spot.x + across * share, spot.y + down * share + copysign(high * _RISE * (down != 0), down)
            align, before = ("left", 0.0) if across > 0 else ("right", 1.0) if across else ("center", 0.5)
            left = x - wide * before
            placed = Placed(x, y, align, away >= _LEADER_FROM)
            yield away, placed, _Box(left, y - high / 2, left + wide, y + high / 2)


def _cost(
    away: float,
    placed: Placed,
    box: _Box,
    own: Spot,
    spots: Sequence[Spot],
    taken: Sequence[_Box],
    along: Sequence[tuple[float, float]],
    extent: tuple[float, float],
) -> float:
    leader = list(_between(own, Spot(placed.x, placed.y))) if placed.leader else []
    outside = box.left < 0 or box.top < 0 or box.right > extent[0] or box.bottom > extent[1]
    return (
        away
        + _ON_A_NAME * sum(box.shared(other) for other in taken)
        + _THROUGH_A_NAME * sum(any(other.holds(x, y) for x, y in leader) for other in taken)
        + _ON_A_POINT * sum(box.holds(each.x, each.y, _POINT) for each in spots if each is not own)
        + _ON_A_LINE * min(_MOST_ON_A_LINE, sum(box.holds(x, y) for x, y in along))
        + _OUTSIDE * outside
    )


def _between(one: Spot, other: Spot) -> Iterator[tuple[float, float]]:
    steps = max(1, round(hypot(other.x - one.x, other.y - one.y) / _STEP))
    for step in range(steps + 1):
        share = step / steps
        yield one.x + share * (other.x - one.x), one.y + share * (other.y - one.y)
