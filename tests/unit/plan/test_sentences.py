"""Plain sentences for what does not fit a table."""

import tomllib

import pytest
from pydantic import create_model
from pydantic_core import PydanticUndefined

from stillwell.plan import model, shape
from stillwell.plan.fields import keys_at
from stillwell.plan.naming import met, nearest, path_name, short
from stillwell.plan.sentences import SAMPLES, fault_of

pytestmark = pytest.mark.base

TABLES = {
    ("home",): "Home", ("resident",): "Resident", ("rooms", "x"): "Room", ("openings", "x"): "Opening",
    ("parts", "x"): "Part", ("states", "x"): "State", ("people", "x"): "Person", ("calls", "x"): "Call",
    ("calls", "x", "steps", 0): "Step", ("hazard", 0): "Hazard", ("hazard", 0, "deadline"): "Deadline",
    ("parts", "x", "reads", 0): "Read", ("parts", "x", "reads", 0, "number"): "Scale",
    ("parts", "x", "commands"): "Commands", ("alarm", 0): "Alarm", ("aid", 0): "Aid", ("never", 0): "Never",
    ("upkeep",): "Upkeep", ("limits", "x"): "LimitTable", ("limits", "x", "rows", 0): "LimitRow",
}  # fmt: skip


def needed():
    for path, name in TABLES.items():
        fields = getattr(model, name).model_fields
        assert keys_at(path) == tuple(field.alias or key for key, field in fields.items())
        for key, field in fields.items():
            if field.default is PydanticUndefined and field.default_factory is None:
                yield path[0], key, field


def check(field, value):
    one = create_model("One", __base__=model.Model, value=(field.rebuild_annotation(), ...))
    one.model_validate({"value": value})


def test_every_key_that_must_be_there_has_a_sample_that_is_right():
    keys = list(needed())
    assert {(table, key) for table, key, _ in keys} == set(SAMPLES)
    for table, key, field in keys:
        data = tomllib.loads(SAMPLES[(table, key)])
        assert list(data) == [key]
        check(field, data[key])


def test_every_key_that_must_be_there_can_be_held_open():
    keys = list(needed())
    assert {(table, key) for table, key, _ in keys} == set(shape._STAND_IN)
    for table, key, field in keys:
        check(field, shape._STAND_IN[(table, key)])


def test_an_error_without_a_sentence_of_its_own_still_has_a_plain_one():
    fault = fault_of({"type": "url_scheme", "loc": ("home", "name"), "msg": "URL scheme should be...", "input": [1]})
    assert (fault.code, fault.path) == ("unfit", ("home", "name"))
    assert fault.what == "a list does not fit here"
    assert "URL" not in fault.remedy


@pytest.mark.parametrize(
    ("value", "said"),
    [
        (True, "true"),
        ("a\nb", 'the text "a b"'),
        ("x" * 100, f'the text "{"x" * 57}..."'),
        (3, "the number 3"),
        (2.5, "the number 2.5"),
        pytest.param(10**5000, "a huge number", id="huge"),
        ({}, "a table"),
        ([], "a list"),
        (tomllib.loads("a = 2026-01-01")["a"], "a date or time"),
    ],
)
def test_what_was_met(value, said):
    assert met(value) == said


DATA = {
    "home": {}, "parts": {"hall_pir": {}}, "alarm": [{"name": "Cold"}, {"name": 3}, {}], "calls": {"family": {}},
    "rooms": {"hall": {}}, "signals": {"x": "y"}, "hazard": {"name": "no list"},
}  # fmt: skip


@pytest.mark.parametrize(
    ("path", "name"),
    [
        ((), ""),
        (("home", "timezone"), "home, timezone"),
        (("home", "position", 0), "home, position 1"),
        (("parts", "hall_pir", "supervision"), "parts.hall_pir, supervision"),
        (("signals", "x"), "signals.x"),
        (("alarm", 0, "when"), 'alarm "Cold", when'),
        (("alarm", 1, "when"), "alarm 2, when"),
        (("alarm", 2), "alarm 3"),
        (("alarm", 9, "do", 1), "alarm 10, do 2"),
        (("calls", "family", "steps", 1, "whom", 0), "calls.family, step 2, whom 1"),
        (("rooms", "hall", "outline", 3, 0), "rooms.hall, corner 4, number 1"),
        (("hazard",), "hazard"),
        (("nonsense", "x\ny"), "nonsense, x y"),
    ],
)
def test_names_of_places(path, name):
    assert path_name(path, DATA) == name


def test_suggestions():
    assert nearest("hal", ["hall", "shed"], "Rooms") == "Did you mean hall?"
    assert nearest("zzz", ["hall", "shed"], "Rooms") == "Rooms: hall, shed."
    assert nearest("zzz", [], "Rooms") == ""
    assert nearest("zzz", [f"r{number}" for number in range(30)], "Rooms").endswith("r25, r26 and 10 more.")
    assert short("a\tb") == "a b"
