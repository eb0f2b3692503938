"""Outlines of rooms."""

import pytest

from stillwell.plan.outline import area_m2, first_crossing, overlap_m2

pytestmark = pytest.mark.base

SQUARE = [(0, 0), (4, 0), (4, 4), (0, 4)]
L_SHAPE = [(0, 0), (4, 0), (4, 1), (1, 1), (1, 4), (0, 4)]


def moved(outline, east, north):
    return [(x + east, y + north) for x, y in outline]


def test_area_of_a_worked_example():
    # The usual example of the shoelace formula (from memory): area 30.
    assert area_m2([(3, 4), (5, 11), (12, 8), (9, 5), (5, 6)]) == 30


@pytest.mark.parametrize("outline", [SQUARE, SQUARE[::-1], L_SHAPE, [(0, 0), (3, 0), (0, 4)], [*SQUARE, SQUARE[0]]])
def test_simple_outlines(outline):
    assert first_crossing(outline) is None


@pytest.mark.parametrize(
    ("outline", "walls"),
    [
        ([(0, 0), (4, 4), (4, 0), (0, 4)], (0, 2)),  # a bow tie
        ([(0, 0), (4, 0), (4, 0), (4, 4)], (1, 1)),  # a corner twice
        ([(0, 0), (4, 0), (2, 0), (2, 4)], (0, 1)),  # back along the wall
        ([(0, 0), (4, 0), (4, 4), (2, 0), (0, 4)], (0, 2)),  # a corner on another wall
        ([(0, 0), (2, 0)], (0, 1)),
        ([(0, 0), (1, 1), (2, 0), (2, 2), (1, 1), (0, 2)], (0, 3)),  # two corners in one place
    ],
)
def test_outlines_that_are_none(outline, walls):
    assert first_crossing(outline) == walls


@pytest.mark.parametrize(
    ("first", "second", "area"),
    [
        (SQUARE, moved(SQUARE, 4, 0), 0),  # one wall in common
        (SQUARE, moved(SQUARE, 4, 4), 0),  # one corner in common
        (SQUARE, moved(SQUARE, 9, 0), 0),
        (SQUARE, SQUARE, 16),
        (SQUARE, moved(SQUARE, 1, 2), 6),
        (SQUARE, [(1, 1), (2, 1), (2, 3), (1, 3)], 2),  # one in the other
        (L_SHAPE, moved(L_SHAPE, 1, 1), 0),  # one in the other's nook, two walls in common
        (L_SHAPE, moved(SQUARE, 0.5, 0.5), 3.5 * 0.5 + 3 * 0.5),
        (SQUARE, [(2, -1), (6, 3), (2, 7)], 2 * 4 - 0.5),  # cuts off one corner of the right half
        ([(0, 0), (4, 0), (4, 3)], [(0, 0), (4, 3), (0, 3)], 0),  # a slanted wall in common
    ],
)
def test_overlap(first, second, area):
    assert overlap_m2(first, second) == pytest.approx(area, abs=1e-9)
    assert overlap_m2(second, first) == pytest.approx(area, abs=1e-9)
