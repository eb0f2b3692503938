"""Both evaluators give every word of the rule language the meaning that is written in docs/rule-language.md.

The judge is the slow oracle, written from the definitions; hypothesis invents plans and records. Times are single
milliseconds around a local midnight, so that every coincidence of edges happens often.
"""

import json

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.laws.evaluators import differences, same_steps
from tests.oracle.meaning import Meaning

from stillwell.engine import columns, walk
from stillwell.engine.program import compile_plan
from stillwell.engine.step import Stepper
from stillwell.plan.model import Plan
from stillwell.record.columns import Pulses, Record, Steps

pytestmark = pytest.mark.base

MIDNIGHT_MS = 1_772_496_000_000  # Tuesday 3 March 2026, 00:00 in London
SPAN = (MIDNIGHT_MS - 30, MIDNIGHT_MS + 50)

PULSES = ("hall.movement", "door.opened", "door.closed", "button.pressed", "life")
LEVELS = (
    *("door.open", "floor.wet", "hall.lost", "lamp.on", "away is on", "away is off", "busy"),
    *("no life for limit quiet", "no moves for limit far"),
)
durations = st.integers(1, 25).map("{}ms".format)


@st.composite
def levels(draw, depth=2, signals=LEVELS):
    if depth == 0 or draw(st.booleans()):
        kind = draw(st.integers(0, 5))
        if kind == 0:
            return draw(st.sampled_from(["between 23:00 and 00:00", "between 00:00 and 07:00", "on tue", "on wed-mon"]))
        if kind == 1:
            return f"room.temperature {draw(st.sampled_from(['<', '<=', '>', '>=']))} {draw(st.integers(14, 18))}C"
        return draw(st.sampled_from(signals))
    inner, flow = levels(depth - 1, signals), pulses(depth - 1, signals)
    kind = draw(st.sampled_from(["not", "and", "or", "for", "no", "count"]))
    match kind:
        case "not":
            return f"not ({draw(inner)})"
        case "and" | "or":
            return f"({draw(inner)}) {kind} ({draw(inner)})"
        case "for":
            return f"({draw(inner)}) for {draw(durations)}"
        case "no":
            return f"no ({draw(flow)}) for {draw(durations)}"
    return f"{draw(st.integers(1, 3))} ({draw(flow)}) within {draw(durations)}"


@st.composite
def pulses(draw, depth=2, signals=LEVELS):
    if depth == 0 or draw(st.booleans()):
        sources = [one for one in PULSES if one != "life" or signals is LEVELS]
        return draw(st.sampled_from([*sources, "at 00:00"]))
    inner, flow = levels(depth - 1, signals), pulses(depth - 1, signals)
    match draw(st.sampled_from(["or", "and", "then", "without", "start", "end"])):
        case "or":
            return f"({draw(flow)}) or ({draw(flow)})"
        case "and":
            return f"({draw(flow)}) and ({draw(inner)})"
        case "then" | "without" as word:
            return f"({draw(flow)}) {word} ({draw(flow)}) within {draw(durations)}"
        case "start":
            return f"start of ({draw(inner)})"
    return f"end of ({draw(inner)})"


@st.composite
def tables(draw, signal, names):
    """A table of limits over a signal, with up to four rows."""
    longest = draw(st.integers(5, 25))
    rows = []
    for _ in range(draw(st.integers(0, 4))):
        row = {
            "room": draw(st.sampled_from([None, None, "parlour", "den"])),
            "last": draw(st.sampled_from([None, None, *names])),
            "from": draw(st.sampled_from([None, "23:00", "00:00"])),
            "days": draw(st.sampled_from(["all", "all", "mon", "tue", "weekends", "wed-mon"])),
            "after_door": draw(st.one_of(st.none(), durations)),
            "limit": f"{draw(st.integers(1, longest))}ms",
        }
        if row["from"]:
            row["to"] = draw(st.sampled_from(["00:00", "01:00", "23:00"]))
        rows.append({key: value for key, value in row.items() if value is not None})
    return {"signal": signal, "longest": f"{longest}ms", "rows": rows}


BASE_LEVELS = ("door.open", "floor.wet", "hall.lost")


@st.composite
def plans(draw):
    """A plan whose aids set a lamp and a state from base signals, and whose alarms may read everything."""
    aids = []
    for number, deed in enumerate(("lamp on", "lamp on for 9ms", "set away to on", "lamp off", "set away to off")):
        when = draw(st.one_of(levels(1, BASE_LEVELS), pulses(1, BASE_LEVELS)))
        aids.append({"name": f"aid {number}", "when": when, "do": [deed]})
    alarms = []
    for number in range(3):
        alarm = {"name": f"alarm {number}", "hazard": "h", "call": "c"}
        alarm["when"] = draw(st.one_of(levels(3), pulses(3)))
        if draw(st.booleans()):
            alarm["while"] = draw(levels(1))
        alarms.append(alarm)
    supervised = draw(st.one_of(st.none(), st.integers(3, 40).map("{}ms".format)))
    parts = {
        "hall": {"kind": "movement", "room": "den", "supervision": supervised},
        "door": {"kind": "contact", "opening": "gate", "supervision": draw(st.sampled_from([None, "20ms"]))},
        "floor": {"kind": "water"},
        "room": {"kind": "temperature", "supervision": supervised},
        "lamp": {"kind": "lamp", "supervision": draw(st.sampled_from([None, "30ms"]))},
        "button": {"kind": "push button"},
    }
    parts = {name: {key: value for key, value in part.items() if value} for name, part in parts.items()}
    return Plan.model_validate(
        {
            "home": {"name": "x", "timezone": "Europe/London"},
            "resident": {"name": "x"},
            "openings": {"gate": {"kind": "door", "rooms": ["parlour", "outside"]}},
            "parts": parts,
            "signals": {
                "life": "hall.movement or door.opened",
                "moves": "life or button.pressed",
                "busy": "2 hall.movement within 12ms",
            },
            "limits": {
                "quiet": draw(tables("life", ["hall.movement", "door.opened"])),
                "far": draw(tables("moves", ["life", "button.pressed"])),
            },
            "states": {"away": {"values": ["off", "on"], "initial": "off"}},
            "people": {"p": {"name": "p", "channels": {"text": "1s"}}},
            "calls": {"c": {"steps": [{"whom": ["p"], "by": "text", "wait": "1min"}]}},
            "hazard": [{"name": "h", "kind": "collapse", "deadline": {"day": "1h", "night": "1h"}}],
            "alarm": alarms,
            "aid": aids,
            "upkeep": {"call": "c"},
        }
    )


@st.composite
def records(draw):
    instants = st.integers(SPAN[0], SPAN[1] - 1)

    def times(most):
        return np.array(sorted(draw(st.sets(instants, max_size=most))), np.int64)

    def steps(most, values, dtype):
        found = times(most)
        return Steps(found, np.array([draw(values) for _ in found], dtype))

    level = st.sampled_from([0, 2, 2, 0, 1])
    signals = {
        "hall.movement": Pulses(times(8)),
        "hall.alive": Pulses(times(3)),
        "hall.link_lost": steps(2, st.sampled_from([0, 2]), np.int8),
        "door.open": steps(6, level, np.int8),
        "floor.wet": steps(4, level, np.int8),
        "lamp.on": steps(3, st.sampled_from([0, 2]), np.int8),
        "lamp.alive": Pulses(times(3)),
        "button.pressed": Pulses(times(4)),
        "room.temperature": steps(5, st.sampled_from([14.0, 15.5, 16.0, 18.0, np.nan]), np.float64),
        "nobody.knows": Pulses(times(2)),
    }
    return Record("Europe/London", SPAN, signals)


COMMON = {"deadline": None, "suppress_health_check": list(HealthCheck)}


@settings(max_examples=2000, **COMMON)
@given(plans(), records())
def test_step_and_columns_agree(plan, record):
    assert list(differences(compile_plan(plan), record)) == []


@settings(max_examples=100, **COMMON)
@given(plans(), records())
def test_columns_mean_what_the_definitions_say(plan, record):
    meaning, got = Meaning(plan, record), columns.run(compile_plan(plan), record)
    for number, rule in enumerate(meaning.rules):
        expected = [t for t in range(*SPAN) if meaning.fires(number, t)]
        assert got.fired[rule.name].tolist() == expected, rule
        if rule in plan.alarm:
            expected = [t for t in range(*SPAN) if meaning.returns(number, t)]
            assert got.returned[rule.name].tolist() == expected, rule
    away = [plan.states["away"].values.index(meaning.state("away", t)) for t in range(*SPAN)]
    assert same_steps(got.levels["away"], away, SPAN)
    assert same_steps(got.levels["lamp.on"], [meaning.switched("lamp", t)[0] for t in range(*SPAN)], SPAN)


@settings(max_examples=200, **COMMON)
@given(plans(), records(), st.integers(*SPAN), st.lists(st.integers(*SPAN), max_size=6))
def test_stored_and_resumed_is_never_stopped(plan, record, stop_ms, pauses):
    program = compile_plan(plan)
    whole, broken = Stepper(program, SPAN[0]), Stepper(program, SPAN[0])
    expected, got = [], []
    for now, events in walk.instants(record):
        expected += whole.take(now, events)
        for pause in sorted(pauses):
            if broken.now < pause < now:  # one leap of time is many small ones
                got += broken.advance(pause)
        if broken.now <= stop_ms < now:
            broken = Stepper.resume(program, json.loads(json.dumps(broken.snapshot())))
        got += broken.take(now, events)
    expected += whole.advance(SPAN[1])
    got += broken.advance(SPAN[1])
    assert got == expected
    assert json.dumps(broken.snapshot()) == json.dumps(whole.snapshot())
