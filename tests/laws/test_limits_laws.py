"""Tables of limits: both evaluators, stored and resumed, give them the meaning of docs/rule-language.md.

The judge is the slow oracle, written from the definitions. Every alarm here waits for a table, and rows, doors and
signs fall together often: all times are single milliseconds around a local midnight.
"""

import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.laws.evaluators import differences, same_steps
from tests.laws.test_engine_laws import COMMON, SPAN, records, tables
from tests.oracle.meaning import Meaning

from stillwell.engine import columns, walk
from stillwell.engine.carry import carried
from stillwell.engine.program import compile_plan
from stillwell.engine.step import Stepper
from stillwell.plan.model import Plan

pytestmark = pytest.mark.base

QUIET, FAR = "no life for limit quiet", "no moves for limit far"


@st.composite
def plans(draw):
    """A plan whose alarms wait for tables of limits."""
    door = draw(st.sampled_from([{"opening": "gate"}, {"opening": "gate", "room": "den"}]))
    conditions = [QUIET, FAR, f"not ({QUIET}) and {FAR}"]
    return Plan.model_validate(
        {
            "home": {"name": "x", "timezone": "Europe/London"},
            "resident": {"name": "x"},
            "openings": {"gate": {"kind": "door", "rooms": ["parlour", "outside"]}},
            "parts": {
                "hall": {"kind": "movement", "room": "den"},
                "door": {"kind": "contact"} | door,
                "floor": {"kind": "water"},
                "room": {"kind": "temperature"},
                "lamp": {"kind": "lamp"},
                "button": {"kind": "push button"},
            },
            "signals": {"life": "hall.movement or door.opened", "moves": "life or button.pressed"},
            "limits": {
                "quiet": draw(tables("life", ["hall.movement", "door.opened"])),
                "far": draw(tables("moves", ["life", "button.pressed"])),
            },
            "people": {"p": {"name": "p", "channels": {"text": "1s"}}},
            "calls": {"c": {"steps": [{"whom": ["p"], "by": "text", "wait": "1min"}]}},
            "hazard": [{"name": "h", "kind": "collapse", "deadline": {"day": "1h", "night": "1h"}}],
            "alarm": [
                {"name": f"alarm {number}", "hazard": "h", "call": "c", "when": when}
                for number, when in enumerate(conditions)
            ],
            "never": [{"claim": when} for when in conditions],
        }
    )


@settings(max_examples=400, **COMMON)
@given(plans(), records())
def test_step_and_columns_agree(plan, record):
    assert list(differences(compile_plan(plan), record)) == []


@settings(max_examples=150, **COMMON)
@given(plans(), records())
def test_columns_mean_what_the_definitions_say(plan, record):
    meaning, got = Meaning(plan, record), columns.run(compile_plan(plan), record)
    for never in plan.never:
        expected = [meaning.level(never.claim.formula, t) for t in range(*SPAN)]
        assert same_steps(got.levels[never.claim.text], expected, SPAN), never.claim.text


@settings(max_examples=100, **COMMON)
@given(plans(), records(), st.integers(*SPAN))
def test_stored_and_resumed_is_never_stopped(plan, record, stop_ms):
    program = compile_plan(plan)
    whole, broken = Stepper(program, SPAN[0]), Stepper(program, SPAN[0])
    expected, got = [], []
    for now, events in walk.instants(record):
        expected += whole.take(now, events)
        if broken.now <= stop_ms < now:
            broken = Stepper.resume(program, json.loads(json.dumps(broken.snapshot())))
        got += broken.take(now, events)
    expected += whole.advance(SPAN[1])
    got += broken.advance(SPAN[1])
    assert got == expected
    assert json.dumps(broken.snapshot()) == json.dumps(whole.snapshot())


def without_doors(tables):
    """The tables without what a door did before: of that a changed plan no longer knows."""
    rows = {name: [{**row, "after_door": None} for row in table.get("rows", ())] for name, table in tables.items()}
    return {name: {**table, "rows": rows[name]} for name, table in tables.items()}


@settings(max_examples=200, **COMMON)
@given(plans(), plans(), records(), st.integers(*SPAN))
def test_a_changed_table_goes_on_from_the_last_sign(before, after, record, swap_ms):
    """From the swap on everything is as if the new table had stood there from the start."""
    data = [plan.model_dump(mode="json", by_alias=True, exclude_defaults=True) for plan in (before, after)]
    for one in data:
        one["limits"] = without_doors(one["limits"])
        one["parts"], one["alarm"] = data[0]["parts"], data[0]["alarm"]
        one["never"] = data[0]["never"]
    old, new = (compile_plan(Plan.model_validate(one)) for one in data)
    events = list(walk.instants(record))
    stepper = Stepper(old, SPAN[0])
    for now, reports in events:
        if now <= swap_ms:
            stepper.take(now, reports)
    stepper.advance(swap_ms)
    stepper = Stepper.resume(new, json.loads(json.dumps(carried(old, stepper.snapshot(), new))))
    judge = columns.run(new, record).levels
    nodes = dict(new.claims)
    at = dict(events)
    for now in range(stepper.now + 1, SPAN[1]):
        stepper.take(now, at.get(now, []))
        for text, node in nodes.items():
            steps = judge[text]
            expected = steps.values[np.searchsorted(steps.times, now, "right") - 1]
            assert stepper.value(node) == expected, (text, now)
