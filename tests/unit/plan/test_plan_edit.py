"""Changing a plan's text: the value comes out, and every other character stays."""

import tomllib
from pathlib import Path

import pytest

from stillwell.plan.edit import append_entry, set_value, write_plan
from stillwell.plan.read import read_plan

pytestmark = pytest.mark.base

ROOT = Path(__file__).parents[3]
COTTAGE = (ROOT / "examples/cottage/home.toml").read_text("utf-8")

TEXT = """\
# the top
[signals] # of our own
a = "x"   # first

b.c = 1
[parts.lamp]
kind = "lamp" # it shines
place = [1, 2, # across
  3]
[people.ben]
channels = { call = "30s" } # by day
empty = {}
"""


@pytest.mark.parametrize(
    ("path", "value", "old", "new"),
    [
        (("signals", "a"), "y", 'a = "x"   # first', 'a = "y"   # first'),
        (("signals", "b", "c"), True, "b.c = 1", "b.c = true"),
        (("signals", "z"), "1\n2", "b.c = 1\n", 'b.c = 1\nz = "1\\n2"\n'),
        (("signals", "b", "d"), 2, "b.c = 1\n", "b.c = 1\nb.d = 2\n"),
        (("parts", "lamp", "place", 1), 2.5, "place = [1, 2, # across", "place = [1, 2.5, # across"),
        (("parts", "lamp", "place"), [1, 2], "place = [1, 2, # across\n  3]", "place = [1, 2]"),
        (("parts", "lamp", "hub"), "h", "  3]\n", '  3]\nhub = "h"\n'),
        (("people", "ben", "channels", "call"), "1min", '{ call = "30s" }', '{ call = "1min" }'),
        (("people", "ben", "channels", "text"), "1s", '{ call = "30s" }', '{ call = "30s", text = "1s" }'),
        (("people", "ben", "empty", "x"), {"y": [1]}, "empty = {}", "empty = { x = { y = [1] } }"),
        (("people", "ben", "last one"), 1, "empty = {}\n", 'empty = {}\n"last one" = 1\n'),
    ],
)
def test_set_value(path, value, old, new):
    assert set_value(TEXT, path, value) == TEXT.replace(old, new)


@pytest.mark.parametrize("path", [("parts",), ("parts", "lamp"), ("people", "eve", "name"), ("rooms", "x"), ("top",)])
def test_no_place_for_a_value(path):
    with pytest.raises(LookupError):
        set_value(TEXT, path, 1)


def test_a_new_table_comes_after_the_last_of_its_kind():
    text = append_entry(TEXT, ("parts", "kettle"), {"kind": "outlet", "place": [1, 2]})
    assert text == TEXT.replace("  3]\n", '  3]\n\n[parts.kettle]\nkind = "outlet"\nplace = [1, 2]\n')


def test_the_first_table_of_its_kind_comes_last():
    assert append_entry(TEXT, ("alarm",), {"name": "A"}) == TEXT + '\n[[alarm]]\nname = "A"\n'
    assert append_entry(TEXT.rstrip("\n"), ("upkeep",), {"call": "x"}) == TEXT + '\n[upkeep]\ncall = "x"\n'


def test_windows_line_ends_stay():
    text = append_entry(TEXT.replace("\n", "\r\n"), ("parts", "kettle"), {"kind": "outlet"})
    assert "\n" not in text.replace("\r\n", "")
    assert set_value(text, ("parts", "kettle", "hub"), "h").endswith(text[-40:])


def test_an_edited_cottage_is_read_with_the_change_and_keeps_its_remarks():
    text = set_value(COTTAGE, ("alarm", 0, "when"), "no sign_of_life for 5h")
    text = set_value(text, ("people", "jonas", "channels", "push"), "5s")
    text = append_entry(text, ("aid",), {"name": "New", "when": "at sunset", "do": ["kitchen_lamp on for 1h"]})
    plan = read_plan(text, "home.toml")
    assert plan.alarm[0].when.text == "no sign_of_life for 5h"
    assert plan.people["jonas"].channels["push"] == 5_000
    assert plan.aid[-1].name == "New"
    remarks = [line for line in COTTAGE.split("\n") if "#" in line]
    assert [line for line in text.split("\n") if "#" in line] == remarks


def test_power_is_written_where_it_is_not_the_usual():
    text = set_value(COTTAGE, ("parts", "hall_lamp", "power"), "battery")
    written = write_plan(read_plan(text, "home.toml"))
    parts = tomllib.loads(written)["parts"]
    assert {name: part["power"] for name, part in parts.items() if "power" in part} == {
        "hall_lamp": "battery",
        "hall_sounder": "mains",
    }
    assert read_plan(written, "home.toml").parts["hall_lamp"].power == "battery"


def test_a_plan_written_and_read_is_the_same_plan():
    for file in (ROOT / "examples/cottage/home.toml", Path(__file__).with_name("small.toml")):
        plan = read_plan(file.read_text("utf-8"), "home.toml")
        text = write_plan(plan)
        assert read_plan(text, "home.toml") == plan
        assert list(tomllib.loads(text)["parts"]) == list(plan.parts)
