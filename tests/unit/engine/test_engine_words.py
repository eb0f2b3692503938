"""Each word of the rule language on one short timeline, worked out by hand from docs/rule-language.md."""

import numpy as np
import pytest
from tests.smallest import alarm, plan_of

from stillwell.engine import columns, walk
from stillwell.engine.program import compile_plan
from stillwell.record.columns import Pulses, Record, Steps

pytestmark = pytest.mark.base

START_MS = 1_773_100_800_000  # Tuesday 10 March 2026, 00:00 in London
F, U, T = 0, 1, 2
PARTS = {
    "hall": {"kind": "movement"},
    "bell": {"kind": "push button"},
    "door": {"kind": "contact"},
    "cellar": {"kind": "water", "supervision": "40ms"},
    "room": {"kind": "temperature"},
}
SIGNALS = {
    "hall.movement": [10, 14, 15, 40],
    "bell.pressed": [12, 15, 60],
    "door.open": [(5, F), (20, T), (30, F), (50, T), (70, U), (80, T)],
    "cellar.wet": [(8, F), (16, T)],  # and then nothing: lost at 56
    "room.temperature": [(0, 16.5), (25, 15.9), (45, 16.0), (65, float("nan"))],
}

EVALUATORS = pytest.mark.parametrize("evaluate", [columns.run, walk.run], ids=["columns", "step"])


def column(reports):
    if not isinstance(reports[0], tuple):
        return Pulses(np.array(reports, np.int64) + START_MS)
    times, values = zip(*reports, strict=True)
    kind = np.float64 if any(isinstance(value, float) for value in values) else np.int8
    return Steps(np.array(times, np.int64) + START_MS, np.array(values, kind))


def record_of(signals=SIGNALS, length_ms=100):
    span = START_MS, START_MS + length_ms
    return Record("Europe/London", span, {name: column(reports) for name, reports in signals.items()})


LEVELS = {
    "door.open": [(0, U), (5, F), (20, T), (30, F), (50, T), (70, U), (80, T)],
    "not door.open": [(0, U), (5, T), (20, F), (30, T), (50, F), (70, U), (80, F)],
    # a lost part's level is unknown until it reports anew
    "cellar.wet": [(0, U), (8, F), (16, T), (56, U)],
    "cellar.lost": [(0, F), (56, T)],
    "door.open and cellar.wet": [(0, U), (5, F), (20, T), (30, F), (50, T), (56, U)],
    "door.open or cellar.wet": [(0, U), (8, F), (16, T), (56, T), (70, U), (80, T)],
    "room.temperature < 16C": [(0, F), (25, T), (45, F), (65, U)],
    "room.temperature <= 16C": [(0, F), (25, T), (65, U)],
    # true from d after it began, false from the first false until d after the last
    "door.open for 10ms": [(0, U), (5, F), (60, T), (70, U), (90, T)],
    "door.open for 9ms": [(0, U), (5, F), (29, T), (30, F), (59, T), (70, U), (89, T)],
    # the pulse at t - d no longer counts, that at t does
    "no hall.movement for 25ms": [(0, U), (10, F), (65, T)],
    "no hall.movement for 24ms": [(0, U), (10, F), (39, T), (40, F), (64, T)],
    "no hall.movement for 9ms": [(0, U), (9, T), (10, F), (24, T), (40, F), (49, T)],
    "2 hall.movement within 5ms": [(0, U), (5, F), (14, T), (19, F)],
    "at least 3 hall.movement within 6ms": [(0, U), (6, F), (15, T), (16, F)],
    "1 bell.pressed within 20ms": [(0, U), (12, T), (35, F), (60, T), (80, F)],
    "between 23:00 and 01:00": [(0, T)],
    "on tue": [(0, T)],
    "on wed-mon": [(0, F)],
}

PULSES = {
    "hall.movement": [10, 14, 15, 40],
    "hall.movement or bell.pressed": [10, 12, 14, 15, 40, 60],
    "hall.movement and door.open": [],
    "bell.pressed and door.open": [60],
    "hall.movement and cellar.wet": [40],
    # strictly before, and at most d before
    "hall.movement then bell.pressed within 2ms": [12, 15],
    "hall.movement then bell.pressed within 20ms": [12, 15, 60],
    "bell.pressed then hall.movement within 25ms": [14, 15, 40],
    "bell.pressed then hall.movement within 24ms": [14, 15],
    # decided d after the first; a second at the very end still counts
    "hall.movement without bell.pressed within 1ms": [11, 16, 41],
    "hall.movement without bell.pressed within 2ms": [17, 42],
    "hall.movement without bell.pressed within 20ms": [35],
    "bell.pressed without hall.movement within 25ms": [85],
    "door.opened": [20, 50],
    "door.closed": [30],
    "start of cellar.lost": [56],
    "end of room.temperature < 16C": [45],
    "at 00:00": [0],
}

# a level fires where it becomes true and was last known false or never known
RAISED = {
    "door.open": [20, 50],
    "no hall.movement for 9ms": [9, 24, 49],
    "door.open for 9ms": [29, 59],
    "room.temperature <= 16C": [25],
    "on tue": [0],
}
RETURNED = {
    "door.open": [30],
    "no hall.movement for 9ms": [10, 40],
    "door.open for 9ms": [30],
    "room.temperature <= 16C": [],
    "on tue": [],
}


@EVALUATORS
@pytest.mark.parametrize("rule", LEVELS)
def test_levels(evaluate, rule):
    outcome = evaluate(compile_plan(plan_of(parts=PARTS, never=[{"claim": rule}])), record_of())
    level = outcome.levels[rule]
    ends = [*level.times[1:].tolist(), START_MS + 100]
    got = [
        value
        for time, end, value in zip(level.times.tolist(), ends, level.values, strict=True)
        for _ in range(time, end)
    ]
    changes = LEVELS[rule]
    until = [*(time for time, _ in changes[1:]), 100]
    assert got == [value for (time, value), end in zip(changes, until, strict=True) for _ in range(time, end)]


@EVALUATORS
@pytest.mark.parametrize("rule", PULSES)
def test_pulses(evaluate, rule):
    outcome = evaluate(compile_plan(plan_of(parts=PARTS, alarm=[alarm(rule)])), record_of())
    assert (outcome.fired[rule] - START_MS).tolist() == PULSES[rule]
    assert outcome.returned[rule].tolist() == outcome.fired[rule].tolist()


@EVALUATORS
@pytest.mark.parametrize("rule", RAISED)
def test_a_level_raises_and_returns(evaluate, rule):
    outcome = evaluate(compile_plan(plan_of(parts=PARTS, alarm=[alarm(rule)])), record_of())
    assert (outcome.fired[rule] - START_MS).tolist() == RAISED[rule]
    assert (outcome.returned[rule] - START_MS).tolist() == RETURNED[rule]


@EVALUATORS
def test_while_is_joined_to_when(evaluate):
    late = alarm("door.open", **{"while": "no hall.movement for 20ms"})
    outcome = evaluate(compile_plan(plan_of(parts=PARTS, alarm=[late])), record_of())
    assert (outcome.fired["door.open"] - START_MS).tolist() == [60]


AIDS = [
    {"name": "a", "when": "bell.pressed", "do": ["lamp on for 10ms", "set away to on"]},
    {"name": "b", "when": "hall.movement", "do": ["lamp off", "set away to off"]},
    {"name": "c", "when": "start of away is on", "do": ["porch on"]},
]


@EVALUATORS
def test_what_rules_set(evaluate):
    parts = PARTS | {"lamp": {"kind": "lamp", "supervision": "50ms"}, "porch": {"kind": "lamp"}}
    states = {"away": {"values": ["off", "on"], "initial": "off"}}
    plan = plan_of(parts=parts, states=states, aid=AIDS)
    signals = {
        "bell.pressed": [5, 12, 30, 31, 40],
        "hall.movement": [8, 31],  # at 31 both rules act: the later in the plan wins
        "lamp.on": [(0, F), (25, T), (50, T)],  # switched on by hand at 25; at 50 the report beats the automatic off
    }
    outcome = evaluate(compile_plan(plan), record_of(signals, 120))

    def level(name):
        steps = outcome.levels[name]
        return list(zip((steps.times - START_MS).tolist(), steps.values.tolist(), strict=True))

    # 5 on, 8 off by the other rule, 12 on, 22 off by itself, 25 on by hand, 31 off, 40 on, 100 lost
    assert level("lamp.on") == [(0, F), (5, T), (8, F), (12, T), (22, F), (25, T), (31, F), (40, T), (100, U)]
    assert level("away") == [(0, 0), (5, 1), (8, 0), (12, 1), (31, 0), (40, 1)]
    assert (outcome.fired["c"] - START_MS).tolist() == [5, 12, 40]
    assert level("porch.on") == [(0, U), (5, T)]


@EVALUATORS
def test_a_part_is_lost_by_silence_or_by_the_radio_and_back_with_any_report(evaluate):
    parts = {"hall": {"kind": "movement", "supervision": "20ms"}, "door": {"kind": "contact"}}
    signals = {
        "hall.movement": [7],
        "hall.alive": [30],
        "hall.link_lost": [(35, T), (44, F)],
        "door.open": [(3, T), (60, T)],
        "door.link_lost": [(50, T), (70, T)],
    }
    plan = plan_of(parts=parts, upkeep={"call": "family"}, never=[{"claim": "door.open"}])
    outcome = evaluate(compile_plan(plan), record_of(signals, 80))
    hall = outcome.levels["hall.lost"]
    # the start counts as a report; lost 20 ms after 7 until heard at 30, from the radio's word until it takes it back
    assert (hall.times - START_MS).tolist() == [0, 27, 30, 35, 44, 64]
    assert hall.values.tolist() == [F, T, F, T, F, T]
    assert (outcome.fired["hall has stopped reporting"] - START_MS).tolist() == [27, 35, 64]
    assert (outcome.returned["hall has stopped reporting"] - START_MS).tolist() == [30, 44]
    assert "door has stopped reporting" not in outcome.fired  # no supervision is asked for
    door = outcome.levels["door.open"]
    assert (door.times - START_MS).tolist() == [0, 3, 50, 60, 70]
    assert door.values.tolist() == [U, T, U, T, U]
