"""Names beside points: where they go is worked by hand, with letters of 12 px half as wide as they are high."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stillwell.charts.labels import Spot, place

pytestmark = pytest.mark.base

EXTENT = (500.0, 400.0)
SIZE = 12


def edges(spot, placed):
    """Left, right, top and bottom of a name, with generous letters."""
    wide = 0.5 * SIZE * len(spot.name)
    left = placed.x - {"left": 0, "center": wide / 2, "right": wide}[placed.align]
    return left, left + wide, placed.y - SIZE / 2, placed.y + SIZE / 2


def test_a_lone_name_stands_right_of_its_point():
    (found,) = place([Spot(100, 100, "8 h")], [], EXTENT, SIZE)
    assert found.align == "left"
    assert found.y == 100
    assert 100 < found.x < 115
    assert not found.leader


def test_at_the_right_edge_it_stands_left():
    (found,) = place([Spot(495, 100, "a look a day")], [], EXTENT, SIZE)
    assert found.align == "right"
    assert found.x < 495


def test_a_spot_without_a_name_has_none():
    assert place([Spot(100, 100)], [], EXTENT, SIZE) == [None]


def test_a_name_goes_out_of_the_way_of_points_and_lines():
    own, other = Spot(100, 100, "10 h"), Spot(120, 100)
    found = place([own, other], [[own, other]], EXTENT, SIZE)[0]
    left, right, top, bottom = edges(own, found)
    assert right < 100 or bottom < 100 or top > 100
    assert left < 120


@given(st.lists(st.tuples(st.integers(60, 440), st.integers(60, 340)), min_size=2, max_size=7))
def test_a_few_names_never_stand_on_one_another_nor_out_of_the_picture(drawn):
    """Points at one spot too; a name that is moved away has a line to its point."""
    spots = [Spot(x, y, f"1 in {number} d") for number, (x, y) in enumerate(drawn)]
    found = place(spots, [spots], EXTENT, SIZE)
    boxes = [edges(spot, placed) for spot, placed in zip(spots, found, strict=True)]
    for number, (left, right, top, bottom) in enumerate(boxes):
        assert left >= 0
        assert top >= 0
        assert right <= EXTENT[0]
        assert bottom <= EXTENT[1]
        for one, other, above, below in boxes[:number]:
            assert right <= one or other <= left or bottom <= above or below <= top
    for spot, placed in zip(spots, found, strict=True):
        away = max(abs(placed.x - spot.x), abs(placed.y - spot.y))
        assert placed.leader or away < 30
