"""Overlap of outlines, against clipping of convex polygons (Sutherland and Hodgman 1974), done in fractions."""

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stillwell.plan.outline import area_m2, first_crossing, overlap_m2

pytestmark = pytest.mark.base

points = st.tuples(st.integers(-5, 5), st.integers(-5, 5))


def turn(a, b, c):
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


triangles = (
    st.tuples(points, points, points).filter(lambda t: turn(*t) != 0).map(lambda t: t if turn(*t) > 0 else t[::-1])
)


def clipped(subject, window):
    """Cut a polygon with the half plane left of each wall of a convex window that runs counter-clockwise."""
    for a, b in pairwise((*window, window[0])):
        kept = []
        for p, q in zip(subject, (*subject[1:], subject[0]), strict=True):
            sides = turn(a, b, p), turn(a, b, q)
            if sides[0] >= 0:
                kept.append(p)
            if sides[0] * sides[1] < 0:
                part = Fraction(sides[0], sides[0] - sides[1])
                kept.append((p[0] + part * (q[0] - p[0]), p[1] + part * (q[1] - p[1])))
        subject = tuple(kept)
        if not subject:
            break
    return subject


def area(polygon):
    around = zip(polygon, (*polygon[1:], *polygon[:1]), strict=True)
    return abs(sum(p[0] * q[1] - p[1] * q[0] for p, q in around)) / 2


@given(triangles, triangles)
def test_overlap_of_triangles(first, second):
    assert overlap_m2(first, second) == pytest.approx(float(area(clipped(first, second))), abs=1e-9)


@given(triangles, triangles)
def test_overlap_is_that_of_the_pieces_of_an_outline(first, second):
    """A quadrilateral is two triangles: what it has in common with another outline is the sum of theirs."""
    corner = (first[0][0] + first[2][0] - first[1][0], first[0][1] + first[2][1] - first[1][1])
    quadrilateral = (*first, corner)
    assert first_crossing(quadrilateral) is None
    pieces = overlap_m2(first, second) + overlap_m2((first[0], first[2], corner), second)
    assert overlap_m2(quadrilateral, second) == pytest.approx(pieces, abs=1e-9)
    assert area_m2(quadrilateral) == pytest.approx(2 * area_m2(first))


@given(st.lists(points, min_size=3, max_size=7))
def test_simple_means_that_no_two_walls_meet_but_neighbours_at_their_corner(outline):
    """By the plain definition, on a raster: walls of whole numbers, points of a wall by twelfths of its length."""
    corners = outline[:-1] if outline[0] == outline[-1] else outline
    walls = list(zip(corners, (*corners[1:], corners[0]), strict=True))

    def raster(wall):
        (x1, y1), (x2, y2) = wall
        twelfths = [Fraction(step, 12) for step in range(13)]
        return {(x1 + part * (x2 - x1), y1 + part * (y2 - y1)) for part in twelfths}

    meets = any(
        len(raster(a) & raster(b)) > (1 if abs(i - j) in {1, len(walls) - 1} else 0)
        for i, a in enumerate(walls)
        for j, b in enumerate(walls)
        if i < j
    )
    if first_crossing(outline) is None:
        assert not meets
