import pytest

from stillwell.plan.model import Plan
from stillwell.simulate.house import OUTSIDE, Use, house_of

pytestmark = pytest.mark.base


def doors(house, start, end):
    return [passage.opening for passage in house.ways[start, end]]


def plan_of(rooms, openings=()):
    outline = [(0, 0), (1, 0), (1, 1)]
    return Plan.model_validate(
        {
            "home": {"name": "Home", "timezone": "UTC"},
            "resident": {"name": "Ida"},
            "rooms": {name: {"outline": outline, "use": use} for name, use in rooms.items()},
            "openings": {name: {"kind": "door", "rooms": ends} for name, ends in dict(openings).items()},
        }
    )


def test_the_way_to_the_shed_leads_through_the_kitchen_and_over_the_yard(cabin):
    house = house_of(cabin)
    assert doors(house, "front_room", "shed") == ["middle_door", "house_door", "shed_door"]
    assert [passage.room for passage in house.ways["front_room", "shed"]] == ["kitchen", OUTSIDE, "shed"]
    assert doors(house, "shed", "shed") == []


def test_a_window_is_no_way_out(cabin):
    assert doors(house_of(cabin), "front_room", OUTSIDE) == ["middle_door", "house_door"]


@pytest.mark.parametrize(
    ("use", "meant"),
    [
        ("bedroom", Use.SLEEP),
        ("Bathroom with shower", Use.WASH),
        ("guest bedroom", Use.OTHER),
        ("WC", Use.TOILET),
        ("hallway", Use.PASS),
        ("lounge", Use.LIVE),
        ("tool shed", Use.OUTDOORS),
        ("larder", Use.OTHER),
    ],
)
def test_a_room_is_used_for_what_its_words_say(use, meant):
    assert house_of(plan_of({"x": use})).uses == {"x": meant}


def test_a_room_without_words_for_its_use_is_known_by_its_name():
    assert house_of(plan_of({"back_bedroom": ""})).uses == {"back_bedroom": Use.SLEEP}


def test_what_a_home_lacks_is_done_in_another_room():
    house = house_of(plan_of({"den": "living room", "wc": "toilet"}))
    assert house.rooms_for(Use.SLEEP) == ("den",)
    assert house.rooms_for(Use.WASH) == ("wc",)
    assert house.guest_room == "den"


def test_the_guest_sleeps_in_the_guest_room():
    assert house_of(plan_of({"den": "living room", "spare": "spare room"})).guest_room == "spare"


def test_rooms_without_doors_are_joined_by_the_hall():
    house = house_of(plan_of({"bed": "bedroom", "hall": "hall", "kitchen": "kitchen"}))
    assert [passage.room for passage in house.ways["bed", "kitchen"]] == ["hall", "kitchen"]
    assert [passage.room for passage in house.ways["bed", OUTSIDE]] == ["hall", OUTSIDE]


def test_two_joined_rooms_apart_from_the_rest_are_reached_once():
    house = house_of(
        plan_of({"hall": "hall", "a": "bedroom", "b": "kitchen"}, {"between": ("a", "b")}),
    )
    assert [(p.opening, p.room) for p in house.ways["hall", "b"]] == [("", "a"), ("between", "b")]


def test_a_shed_without_a_door_stands_outside():
    house = house_of(plan_of({"hall": "hall", "shed": "shed"}, {"front": ("hall", "outside")}))
    assert [(p.opening, p.room) for p in house.ways["hall", "shed"]] == [("front", OUTSIDE), ("", "shed")]


def test_a_home_with_the_shed_named_first_is_lived_in_and_left_from_indoors():
    house = house_of(plan_of({"shed": "shed", "bath": "bathroom"}))
    assert house.rooms_for(Use.COOK) == ("bath",)
    assert house.exit_room == "bath"


def test_a_way_out_through_the_shed_begins_in_the_room_beside_it():
    openings = {"out": ("shed", "outside"), "in": ("kitchen", "shed"), "inner": ("kitchen", "bed")}
    house = house_of(plan_of({"bed": "bedroom", "kitchen": "kitchen", "shed": "shed"}, openings))
    assert house.exit_room == "kitchen"
    assert doors(house, "kitchen", OUTSIDE) == ["in", "out"]


def test_a_home_that_is_only_a_shed_is_lived_in():
    house = house_of(plan_of({"shed": "shed"}))
    assert house.rooms_for(Use.SLEEP) == (house.exit_room,) == ("shed",)


def test_one_leaves_by_the_hall_where_it_has_an_outside_door():
    rooms = {"kitchen": "kitchen", "hall": "hall"}
    openings = {"back": ("kitchen", "outside"), "between": ("kitchen", "hall")}
    assert house_of(plan_of(rooms, openings)).exit_room == "kitchen"
    assert house_of(plan_of(rooms, {**openings, "front": ("outside", "hall")})).exit_room == "hall"


def test_a_plan_without_rooms_is_one_room():
    house = house_of(plan_of({}))
    assert list(house.uses) == ["home"]
    assert set(house.ways) == {(a, b) for a in ("home", OUTSIDE) for b in ("home", OUTSIDE)}


def test_a_part_reports_from_its_room_or_beside_its_opening(cabin):
    house = house_of(cabin)
    rooms = {name: house.room_of(part, cabin) for name, part in cabin.parts.items()}
    assert rooms["back_pir"] == "back_room"
    assert rooms["house_contact"] == "kitchen"
    assert rooms["window_contact"] == "front_room"
    assert rooms["pendant"] == "back_room"  # nowhere in particular: the first room
