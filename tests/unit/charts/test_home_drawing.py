"""The plan drawn to scale, for a cottage and for homes made up of rectangles; distances by Pythagoras."""

import itertools
import math
import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.drawn import classed, read
from tests.smallest import plan_of

from stillwell.charts.home_drawing import PIXELS_A_METRE, apart, home_drawings, middle, unplaced_parts
from stillwell.charts.part_marks import RADIUS, kind_key, part_labels, purpose_of
from stillwell.plan.kinds import SIGNALS_OF
from stillwell.plan.read import read_plan

pytestmark = pytest.mark.base

COTTAGE = Path(__file__).parents[3] / "examples" / "cottage" / "home.toml"


@pytest.fixture(scope="module")
def cottage():
    return read_plan(COTTAGE.read_text("utf-8"), "home.toml")


def places(drawing):
    """Where each part's mark stands, by what is said of it."""
    found = {}
    for each in read(drawing).iter():
        shift = re.fullmatch(r"translate\((\S+) (\S+)\)", each.get("transform") or "")
        if shift:
            found[each[0].text] = (float(shift[1]), float(shift[2]))
    return found


def test_rooms_are_to_scale(cottage):
    """The lounge is 4.2 m by 4.2 m, the whole reaches from 0 to 16 m east and from -2 to 7.4 m north."""
    (storey,) = home_drawings(cottage)
    lounge = classed(storey.drawing, "room")[0]
    corners = [tuple(map(float, pair.split(","))) for pair in lounge.get("points").split()]
    widths = {round(abs(a[0] - b[0]) + abs(a[1] - b[1])) for a, b in itertools.pairwise(corners)}
    assert widths == {round(4.2 * PIXELS_A_METRE)}
    assert storey.width >= 16 * PIXELS_A_METRE
    assert storey.height >= 9.4 * PIXELS_A_METRE
    assert len(classed(storey.drawing, "room")) == 8


def test_north_is_up(cottage):
    (storey,) = home_drawings(cottage)
    names = {each.text: float(each.get("y")) for each in classed(storey.drawing, "name")}
    assert names["bedroom"] < names["lounge"]
    assert names["kitchen"] < names["shed"]


def test_every_part_is_drawn_or_named_as_hanging_nowhere(cottage):
    (storey,) = home_drawings(cottage)
    assert unplaced_parts(cottage) == ["pendant"]
    drawn = places(storey.drawing)
    assert len(drawn) == len(cottage.parts) - 1
    assert len(set(part_labels(cottage.parts).values())) == len(cottage.parts)


def test_no_mark_covers_another(cottage):
    (storey,) = home_drawings(cottage)
    spots = list(places(storey.drawing).values())
    assert all(math.dist(a, b) >= 2 * RADIUS for number, a in enumerate(spots) for b in spots[number + 1 :])


def test_no_name_of_a_room_is_under_a_mark(cottage):
    (storey,) = home_drawings(cottage)
    marks = places(storey.drawing).values()
    for each in classed(storey.drawing, "name"):
        if each.text in {"2 m", "north"}:
            continue
        x, y = float(each.get("x")), float(each.get("y"))
        assert all(abs(x - mark_x) > RADIUS or abs(y - 6 - mark_y) > RADIUS for mark_x, mark_y in marks), each.text


def test_doors_and_windows_open_the_wall(cottage):
    (storey,) = home_drawings(cottage)
    assert len(classed(storey.drawing, "gap")) == len(cottage.openings)
    doors = sum(one.kind == "door" for one in cottage.openings.values())
    assert len(classed(storey.drawing, "threshold")) == doors
    assert len(classed(storey.drawing, "pane")) == 2 * (len(cottage.openings) - doors)


def test_each_storey_has_its_drawing():
    outline = [[0, 0], [3, 0], [3, 2], [0, 2]]
    rooms = {"below": {"outline": outline}, "above": {"outline": outline, "storey": 1}}
    parts = {name: {"kind": "movement", "room": name, "place": [1, 1, 2]} for name in rooms}
    found = home_drawings(plan_of(rooms=rooms, parts=parts))
    assert [storey.number for storey in found] == [0, 1]
    assert [list(places(storey.drawing)) for storey in found] == [["M1: below, movement"], ["M2: above, movement"]]


def test_without_rooms_there_is_nothing_to_draw():
    plan = plan_of(parts={"pir": {"kind": "movement"}})
    assert home_drawings(plan) == []
    assert unplaced_parts(plan) == ["pir"]


def test_a_part_on_a_door_hangs_there_and_one_without_a_place_in_its_room():
    plan = plan_of(
        rooms={"hall": {"outline": [[0, 0], [8, 0], [8, 8], [0, 8]]}},
        openings={"door": {"kind": "door", "rooms": ["hall", "outside"], "place": [[8, 2], [8, 3]]}},
        parts={"contact": {"kind": "contact", "opening": "door"}, "pir": {"kind": "movement", "room": "hall"}},
    )
    (storey,) = home_drawings(plan)
    found = places(storey.drawing)
    edge = max(float(pair.split(",")[0]) for pair in classed(storey.drawing, "room")[0].get("points").split())
    assert found["C: contact, contact"][0] == pytest.approx(edge, abs=0.1)
    assert found["M: pir, movement"][0] == pytest.approx(edge - 4 * PIXELS_A_METRE, abs=0.1)


def test_a_name_with_a_script_is_text():
    """Names of homes may hold anything that fits on a line."""
    plan = plan_of(
        home={"name": "<script>alert(1)</script>", "timezone": "Europe/London"},
        rooms={"hall": {"outline": [[0, 0], [2, 0], [2, 2]]}},
    )
    (storey,) = home_drawings(plan)
    assert "<script" not in storey.drawing
    assert "alert(1)" in read(storey.drawing)[0].text


class TestTheMiddleOfARoom:
    def test_of_a_rectangle_it_is_its_centre(self):
        assert middle([(0, 0), (4, 0), (4, 2), (0, 2)]) == pytest.approx((2, 1))

    def test_of_a_triangle_a_third_up(self):
        """The centroid of a triangle is the mean of its corners (Euclid)."""
        assert middle([(0, 0), (3, 0), (0, 3)]) == pytest.approx((1, 1))

    def test_where_the_centre_lies_outside_a_place_inside_is_taken(self):
        """A U of arms 1 m wide: its centre of gravity lies between the arms."""
        east, north = middle([(0, 0), (9, 0), (9, 9), (8, 9), (8, 1), (1, 1), (1, 9), (0, 9)])
        assert 0 < north < 9
        assert 0 <= east <= 1 or 8 <= east <= 9

    def test_of_a_line_it_is_its_first_corner(self):
        assert middle([(1, 1), (2, 1), (3, 1)]) == (1, 1)


@given(st.lists(st.tuples(st.floats(0, 800), st.floats(0, 800)), min_size=2, max_size=12))
def test_marks_that_stand_apart_stay_and_others_move_apart(spots):
    """Twelve marks have room enough on 800 by 800 pixels."""
    named = {str(number): spot for number, spot in enumerate(spots)}
    moved = list(apart(named).values())
    if min(math.dist(a, b) for number, a in enumerate(spots) for b in spots[number + 1 :]) > 2 * RADIUS + 6:
        assert moved == spots
    assert min(math.dist(a, b) for number, a in enumerate(moved) for b in moved[number + 1 :]) > RADIUS


def test_every_kind_of_part_has_a_letter_and_a_shape_of_its_own():
    looks = {kind_key(kind) for kind in SIGNALS_OF}
    assert len(looks) == len(SIGNALS_OF)
    letters = {classed(kind_key(kind), "letter")[0].text for kind in SIGNALS_OF}
    assert len(letters) == len(SIGNALS_OF)
    assert all(purpose_of(kind) for kind in SIGNALS_OF)
