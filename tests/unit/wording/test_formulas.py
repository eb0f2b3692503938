import pytest

from stillwell.plan.kinds import SIGNALS_OF
from stillwell.plan.model import Plan
from stillwell.plan.names import signals_of
from stillwell.plan.read import read_plan
from stillwell.rules.parse import parse_action, parse_formula
from stillwell.wording.formulas import calendar, clause
from stillwell.wording.rules import action_clause
from stillwell.wording.vocabulary import Event, Fact, Quantity, vocabulary

HOME = """
[home]
name = "x"
timezone = "Europe/London"
position = [54, -3]
[resident]
name = "x"
[rooms.hall]
outline = [[0, 0], [1, 0], [1, 1]]
[openings.back_door]
kind = "door"
rooms = ["hall", "outside"]
[parts.hall_pir]
kind = "movement"
room = "hall"
[parts.back_contact]
kind = "contact"
opening = "back_door"
[parts.fridge]
kind = "contact"
[parts.sink_water]
kind = "water"
room = "hall"
[parts.tank_water]
kind = "water"
room = "hall"
[parts.hall_temp]
kind = "temperature"
room = "hall"
[parts.hall_lamp]
kind = "lamp"
[parts.kettle]
kind = "outlet"
[parts.controller]
kind = "controller"
[signals]
sign_of_life = "hall_pir.movement or back_contact.opened"
kettle_boils = "start of kettle.power > 500W"
door_stands_open = "back_contact.open for 10min"
[states.holiday]
values = ["off", "on"]
initial = "off"
[states.guarding]
values = ["unset", "part_set", "set"]
initial = "unset"
"""


@pytest.fixture(scope="module")
def words():
    return vocabulary(read_plan(HOME, "home.toml"))


@pytest.mark.parametrize(
    ("rule", "sentence"),
    [
        ("hall_pir.movement", "there is movement in the hall"),
        ("sign_of_life", "there is a sign of life"),
        ("kettle_boils", '"kettle boils"'),
        ("back_contact.opened", "the back door opens"),
        ("fridge.closed", "the fridge closes"),
        ("back_contact.open", "the back door is open"),
        ("not back_contact.open", "the back door is not open"),
        ("not (not back_contact.open)", "the back door is open"),
        ("door_stands_open", '"door stands open" is true'),
        ("sink_water.wet", "there is water in the hall (sink water)"),
        ("not sink_water.wet", "there is no water in the hall (sink water)"),
        (
            "sink_water.wet or tank_water.wet",
            "there is water in the hall (sink water) or water in the hall (tank water)",
        ),
        ("hall_temp.temperature < 14.5C", "the temperature in the hall is below 14.5 °C"),
        ("hall_temp.temperature >= 30C for 1h", "the temperature in the hall has been at least 30 °C for 1 hour"),
        ("fridge.battery <= 20%", "the battery of the fridge is at most 20 %"),
        ("hall_pir.lost", "the hall pir is out of touch"),
        ("controller.mains", "there is mains power"),
        ("(not controller.mains) for 20min", "there has been no mains power for 20 minutes"),
        ("guarding is part_set", "guarding is part set"),
        ("guarding is not set", "guarding is not set"),
        ("between 22:00 and 07:00", "it is between 22:00 and 07:00"),
        ("not between 22:00 and 07:00", "it is not between 22:00 and 07:00"),
        ("on mon-fri", "it is on Mondays to Fridays"),
        ("on sat, sun", "it is on Saturdays and Sundays"),
        ("at 08:00", "it is 08:00"),
        ("at sunset-30min", "it is 30 minutes before sunset"),
        (
            "no sign_of_life for 3h and between 07:00 and 22:00",
            "there has been no sign of life for 3 hours, between 07:00 and 22:00",
        ),
        (
            "(no sign_of_life for 4h and between 10:00 and 22:30) or no sign_of_life for 9h",
            (
                "there has been no sign of life for 4 hours, between 10:00 and 22:30, or there has been no "
                "sign of life for 9 hours"
            ),
        ),
        (
            "at 08:00 and no sign_of_life for 12h",
            "it is 08:00 and there has been no sign of life for 12 hours",
        ),
        ("not (no sign_of_life for 3h)", "there has been sign of life within the last 3 hours"),
        (
            "no (hall_pir.movement or fridge.opened) for 2h",
            "there has been no movement in the hall or opening of the fridge for 2 hours",
        ),
        ("3 hall_pir.movement within 10min", "there has been movement in the hall at least 3 times within 10 minutes"),
        ("not (2 sign_of_life within 1h)", "there has been sign of life fewer than 2 times within 1 hour"),
        (
            "hall_pir.movement then back_contact.opened within 5min",
            "movement in the hall is followed by opening of the back door within 5 minutes",
        ),
        (
            "back_contact.opened without hall_pir.movement within 90s",
            "opening of the back door is not followed by movement in the hall within 1 minute 30 seconds",
        ),
        ("start of kettle.power > 500W", "the power drawn by the kettle starts to be above 500 W"),
        ("end of hall_lamp.on", "the hall lamp stops being on"),
        ("start of not back_contact.open", "the back door starts to be not open"),
        (
            "(hall_lamp.on or kettle.on) and holiday is off",
            "(the hall lamp is on or the kettle is on) and holiday is off",
        ),
        (
            "(hall_lamp.on and kettle.on) for 5min",
            "it has been so that (the hall lamp is on and the kettle is on), for 5 minutes",
        ),
        ("not (hall_lamp.on and kettle.on)", "it is not so that (the hall lamp is on and the kettle is on)"),
        ("hall_pir.movement and kettle.on", "there is movement in the hall and the kettle is on"),
        ("hall_lamp.on or kettle.on or fridge.open", "the hall lamp is on, the kettle is on or the fridge is open"),
    ],
)
def test_a_formula_in_words(words, rule, sentence):
    assert clause(parse_formula(rule), words) == sentence


@pytest.mark.parametrize(
    ("rule", "hours"),
    [
        ("between 20:00 and 08:00 or on sat, sun", "between 20:00 and 08:00 or on Saturdays and Sundays"),
        ("on mon-fri and between 07:30 and 17:00", "on Mondays to Fridays and between 07:30 and 17:00"),
        ("not on tue", "not on Tuesdays"),
        ("on mon-sun", "on every day"),
        ("on mon, wed", "on Mondays and Wednesdays"),
        ("hall_lamp.on", ""),
        ("on tue and hall_lamp.on", ""),
    ],
)
def test_only_matters_of_the_calendar_are_hours(rule, hours):
    assert calendar(parse_formula(rule)) == hours


@pytest.mark.parametrize(
    ("action", "sentence"),
    [
        ("hall_lamp on for 2h", "the hall lamp goes on for 2 hours"),
        ("kettle off", "the kettle goes off"),
        ("set guarding to part_set", "guarding is set to part set"),
    ],
)
def test_an_action_in_words(action, sentence):
    assert action_clause(parse_action(action)) == sentence


@pytest.mark.parametrize("kind", SIGNALS_OF)
def test_every_kind_of_part_has_words_for_what_it_says(kind):
    parts = {"a_part": {"kind": kind, "room": "hall", "power": "battery"}}
    plan = Plan.model_validate(
        {"home": {"name": "x", "timezone": "UTC"}, "resident": {"name": "x"}, "parts": parts}
        | {"rooms": {"hall": {"outline": [[0, 0], [1, 0], [1, 1]]}}}
    )
    found = vocabulary(plan)
    for name, signal in signals_of(plan).items():
        assert isinstance(found[name], {"pulse": Event, "level": Fact, "number": Quantity}[signal.kind])
        text = str(found[name])
        assert "hall" in text or "a part" in text or "mains" in text
