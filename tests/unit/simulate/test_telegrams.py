"""What is said is what is read: every message of a simulated part goes back through the watch's own reading.

JSON pointers: RFC 6901 (section 4 for ~0 and ~1).
"""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.trial_home import PLAN

from stillwell.plan.check_wiring import reported_by
from stillwell.plan.read import read_plan
from stillwell.rules.kinds import Kind
from stillwell.simulate.telegrams import Telegram, Telegrams, listened_to
from stillwell.watch.payload import Reader, Report, Unread

pytestmark = pytest.mark.base

WIRED = """
[home]
name = "Wired home"
timezone = "Europe/London"

[resident]
name = "Ada Hill"

[rooms.hall]
outline = [[0, 0], [4, 0], [4, 2], [0, 2]]

[parts.door]
kind = "contact"
room = "hall"
reads = [
    { topic = "door", signal = "open", pointer = "/state", values = { ajar = "yes", shut = "no", "?" = "unknown" } },
    { topic = "door", signal = "battery", pointer = "/power~1cell/percent", number = { times = 100.0 } },
    { topic = "door", signal = "link_lost", pointer = "/link", values = { down = "yes", up = "no" } },
]

[parts.warm]
kind = "temperature"
room = "hall"
power = "mains"
reads = [
    { topic = "radio/warm", signal = "temperature", number = { times = 0.5555555555555556, plus = -17.8 } },
    { topic = "radio/warm", signal = "alive" },
]

[parts.pir]
kind = "movement"
room = "hall"

[[parts.pir.reads]]
topic = "pir"
signal = "movement"
pointer = "/a~0b"
values = { HI = "yes", LO = "no" }
sequence = "/n"
stamped = "/at"

[[parts.pir.reads]]
topic = "pir"
signal = "battery"
pointer = "/battery"
sequence = "/n"

[parts.bell]
kind = "sounder"
commands = { topic = "bells", on = '{"bell": 1}', off = '{"bell": 0}' }

[parts.lamp]
kind = "lamp"
"""

PLANS = {"wired": WIRED, "trial": PLAN}


def names(plan):
    return [(f"{name}.{word}", kind) for name, part in plan.parts.items() for word, kind in reported_by(part).items()]


def values(kind):
    if kind.kind is Kind.NUMBER:
        return st.floats(-1e6, 1e6)
    return st.just(1.0) if kind.kind is Kind.PULSE else st.sampled_from([0.0, 1.0])


@pytest.mark.parametrize("which", PLANS)
@given(st.data())
def test_what_is_said_is_what_is_read(which, data):
    plan = read_plan(PLANS[which], "home.toml")
    telegrams, reader = Telegrams(plan, "own/prefix"), Reader(plan, "own/prefix")
    at_ms = data.draw(st.integers(10**12, 2 * 10**12))
    for name, kind in data.draw(st.lists(st.sampled_from(names(plan)), min_size=1, max_size=8)):
        value = data.draw(values(kind))
        (telegram,) = telegrams.of(at_ms, [(name, value)])
        outcomes = reader.read(telegram.topic, telegram.payload.encode())
        heard = {one.signal: one for one in outcomes if isinstance(one, Report)}
        assert heard[name].value == pytest.approx(value, rel=1e-9, abs=1e-9)
        assert not [one for one in outcomes if isinstance(one, Unread)]


def test_a_message_holds_all_that_its_part_reads_out_there():
    telegrams = Telegrams(read_plan(WIRED, "home.toml"))
    (first,) = telegrams.of(0, [("door.open", 1.0)])
    assert first.topic == "door"
    assert json.loads(first.payload) == {"state": "ajar", "power/cell": {"percent": 0.8}, "link": "up"}
    telegrams.of(0, [("door.battery", 50.0)])
    (third,) = telegrams.of(0, [("door.open", None)])
    assert json.loads(third.payload) == {"state": "?", "power/cell": {"percent": 0.5}, "link": "up"}


def test_a_movement_is_not_said_again_with_the_battery_and_every_message_has_a_number_of_its_own():
    telegrams = Telegrams(read_plan(WIRED, "home.toml"))
    said = [telegrams.of(5, [(f"pir.{word}", value)])[0] for word, value in [("movement", 1.0), ("battery", 70.0)]]
    assert [json.loads(one.payload) for one in said] == [
        {"a~b": "HI", "n": 1, "at": 5, "battery": 80.0},
        {"a~b": "LO", "n": 2, "at": 5, "battery": 70.0},
    ]


def test_what_parts_say_at_one_instant_on_one_topic_is_one_message():
    telegrams = Telegrams(read_plan(WIRED, "home.toml"))
    said = telegrams.of(0, [("door.open", 0.0), ("door.battery", 10.0), ("lamp.on", 1.0), ("ghost.on", 1.0)])
    assert [one.topic for one in said] == ["stillwell/report/lamp/on", "door"]
    assert said[0] == Telegram("stillwell/report/lamp/on", "true")


def test_what_a_part_has_no_word_for_is_not_said():
    telegrams = Telegrams(read_plan(WIRED, "home.toml"))
    assert telegrams.of(0, [("lamp.on", None)]) == []


def test_commands_are_listened_to_where_the_plan_sends_them():
    found = listened_to(read_plan(WIRED, "home.toml"), "own")
    assert [(topic, [name for name, _ in parts]) for topic, parts in found.items()] == [
        ("bells", ["bell"]),
        ("own/command/lamp", ["lamp"]),
    ]
    assert (found["bells"][0][1].on, found["own/command/lamp"][0][1].off) == ('{"bell": 1}', "off")
