"""The step evaluator as a live home uses it: one event at a time, with deadlines in between, stored and resumed."""

import json

import pytest
from tests.smallest import alarm, plan_of

from stillwell.engine.program import compile_plan
from stillwell.engine.step import Command, Fired, Returned, Stepper

pytestmark = pytest.mark.base

PLAN = plan_of(
    parts={
        "hall": {"kind": "movement"},
        "door": {"kind": "contact"},
        "lamp": {"kind": "lamp"},
        "room": {"kind": "temperature"},
    },
    alarm=[alarm("no hall.movement for 100ms", name="silent"), alarm("room.temperature < 16C", name="cold")],
    aid=[{"name": "light", "when": "hall.movement", "do": ["lamp on for 30ms"]}],
)
PROGRAM = compile_plan(PLAN)


def told(decisions):
    """Decisions in short: (when, what)."""
    names = {Fired: "fired", Returned: "returned"}
    return [
        (one.at_ms, "lamp on" if one.on else "lamp off")
        if isinstance(one, Command)
        else (one.at_ms, f"{one.rule.name} {names[type(one)]}")
        for one in decisions
    ]


def test_events_and_the_passage_of_time():
    stepper = Stepper(PROGRAM, 0)
    assert told(stepper.take(10, [("hall.movement", 1)])) == [(10, "light fired"), (10, "lamp on")]
    assert told(stepper.advance(39)) == []
    assert stepper.deadline() == 40
    assert told(stepper.advance(60)) == [(40, "lamp off")]
    decided = told(stepper.take(200, [("hall.movement", 1)]))
    assert decided[0] == (110, "silent fired")
    assert set(decided[1:]) == {(200, "silent returned"), (200, "light fired"), (200, "lamp on")}


def test_a_command_anew_puts_the_end_off():
    stepper = Stepper(PROGRAM, 0)
    stepper.take(10, [("hall.movement", 1)])
    assert told(stepper.take(35, [("hall.movement", 1)])) == [(35, "light fired"), (35, "lamp on")]
    assert told(stepper.advance(64)) == []
    assert told(stepper.advance(65)) == [(65, "lamp off")]


def test_what_comes_late_counts_as_it_arrives():
    stepper = Stepper(PROGRAM, 0)
    stepper.advance(80)
    assert told(stepper.take(50, [("hall.movement", 1)])) == [(81, "light fired"), (81, "lamp on")]
    assert told(stepper.advance(181)) == [(111, "lamp off"), (181, "silent fired")]


def test_what_nobody_knows_is_counted_and_otherwise_ignored():
    stepper = Stepper(PROGRAM, 0)
    assert stepper.take(5, [("attic.movement", 1), ("hall.nonsense", 1)]) == []
    assert stepper.unknown_signals == 1  # from a part that is known it is still a report of that part


def test_an_unknown_number_neither_raises_nor_returns():
    stepper = Stepper(PROGRAM, 0)
    assert told(stepper.take(1, [("room.temperature", 15.0)])) == [(1, "cold fired")]
    assert told(stepper.take(2, [("room.temperature", None)])) == []
    assert told(stepper.take(3, [("room.temperature", 14.0)])) == []
    assert told(stepper.take(4, [("room.temperature", 17.0)])) == [(4, "cold returned")]


def test_the_whole_state_survives_json():
    stepper = Stepper(PROGRAM, 0)
    stepper.take(10, [("hall.movement", 1), ("room.temperature", 15.0)])
    resumed = Stepper.resume(PROGRAM, json.loads(json.dumps(stepper.snapshot())))
    assert resumed.deadline() == 40
    # down until 300: timers went on, and silence counted
    assert told(resumed.take(300, [("hall.movement", 1)])) == told(stepper.take(300, [("hall.movement", 1)]))
    assert json.dumps(resumed.snapshot()) == json.dumps(stepper.snapshot())


def test_a_state_stored_before_its_first_instant():
    stepper = Stepper.resume(PROGRAM, Stepper(PROGRAM, 1000).snapshot())
    assert told(stepper.advance(1100)) == [(1100, "silent fired")]
