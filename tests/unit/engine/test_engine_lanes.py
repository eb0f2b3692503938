"""Futures of a recorded home: what a lane must remember of the time before its onset."""

import numpy as np
import pytest
from tests.smallest import alarm, plan_of

from stillwell.engine.axis import Axis
from stillwell.engine.columns import Columns, Reports
from stillwell.engine.lanes import Futures, depth, standing
from stillwell.engine.program import compile_plan
from stillwell.record.columns import FALSE, TRUE, Pulses, Record, Steps

pytestmark = pytest.mark.base

PARTS = {
    "hall": {"kind": "movement", "supervision": "50ms"},
    "door": {"kind": "contact"},
    "lamp": {"kind": "lamp"},
    "cellar": {"kind": "water", "supervision": "60ms"},
}
ALL = {"hall.movement", "door.open"}


def pulses(*times):
    return Pulses(np.array(times, np.int64))


def level(*changes):
    times, values = zip(*changes, strict=True)
    return Steps(np.array(times, np.int64), np.array([TRUE if value else FALSE for value in values], np.int8))


def futures(plan, signals, onset, *, silenced=ALL, end=200):
    """Return (instants raised, stretches an alarm stands) of the plan's first alarm after one onset."""
    program = compile_plan(plan)
    rule = program.rules[0]
    base = Columns(program, Axis.of_span(0, end), Reports.of_record(Record("Europe/London", (0, end), signals)))
    lanes = Futures(base, [rule.fires, rule.condition], silenced, 300).after(np.array([onset], np.int64))
    _, raised = lanes.real(lanes.columns.pulses(rule.fires).times)
    starts, ends = standing(lanes.columns, rule.condition)
    stretches = zip((starts - lanes.shift[0]).tolist(), (ends - lanes.shift[0]).tolist(), strict=True)
    return raised[raised > onset].tolist(), list(stretches)


def test_the_timer_runs_from_the_last_report_before_the_onset():
    plan = plan_of(parts=PARTS, alarm=[alarm("no hall.movement for 30ms")])
    raised, _ = futures(plan, {"hall.movement": pulses(10, 20, 35, 60)}, 40)
    assert raised == [65]  # the movement at 60 is no longer seen


def test_what_the_resident_does_not_cause_goes_on():
    plan = plan_of(parts=PARTS, alarm=[alarm("no hall.movement for 30ms and cellar.wet")])
    signals = {"hall.movement": pulses(10, 20), "cellar.wet": level((5, False), (70, True), (90, False))}
    assert futures(plan, signals, 20) == ([70], [(70, 90)])


def test_an_alarm_that_stands_at_the_onset_is_not_raised_again():
    plan = plan_of(parts=PARTS, alarm=[alarm("no hall.movement for 30ms")])
    assert futures(plan, {"hall.movement": pulses(10, 80)}, 50) == ([], [(50, 350)])


def test_an_alarm_stands_until_its_condition_is_known_to_be_false():
    """The cellar's part is lost at 65: nobody knows, so nothing has returned to normal."""
    plan = plan_of(parts=PARTS, alarm=[alarm("cellar.wet")])
    signals = {"hall.movement": pulses(10), "cellar.wet": level((5, True), (150, False))}
    assert futures(plan, signals, 100) == ([], [(100, 150)])


def test_a_command_given_before_the_lane_still_runs_out():
    """On at 20 for 30 ms. A lane from 45 on remembers 31 ms, and so not the command, but its end at 50."""
    aid = {"name": "light", "when": "door.opened", "do": ["lamp on for 30ms"]}
    plan = plan_of(parts=PARTS, aid=[aid], alarm=[alarm("not lamp.on")])
    signals = {"door.open": level((0, False), (20, True))}
    assert depth(compile_plan(plan), compile_plan(plan).rules[0].fires) == 30
    assert futures(plan, signals, 55, end=300) == ([], [(55, 355)])
    assert futures(plan, signals, 45, end=300) == ([50], [(50, 345)])


def test_a_switch_by_hand_at_the_very_end_of_a_command():
    """In one instant a report beats the automatic off."""
    aid = {"name": "light", "when": "door.opened", "do": ["lamp on for 30ms"]}
    plan = plan_of(parts=PARTS, aid=[aid], alarm=[alarm("lamp.on")])
    signals = {"door.open": level((0, False), (20, True)), "lamp.on": level((50, True))}
    assert futures(plan, signals, 50) == ([], [(50, 350)])


def test_the_loss_of_a_part_is_no_report_of_the_resident():
    """``start of hall.lost`` comes after the onset although everything that feeds it is silenced."""
    plan = plan_of(parts=PARTS, alarm=[alarm("no (start of hall.lost) for 90ms")])
    signals = {"hall.movement": pulses(10)}  # lost at 60
    assert futures(plan, signals, 10)[0] == [150]


def test_two_onsets_do_not_touch_each_other():
    plan = plan_of(parts=PARTS, alarm=[alarm("3 hall.movement within 40ms")])
    program = compile_plan(plan)
    rule = program.rules[0]
    record = Record("Europe/London", (0, 200), {"hall.movement": pulses(10, 20, 30, 40, 50)})
    base = Columns(program, Axis.of_span(0, 200), Reports.of_record(record))
    lanes = Futures(base, [rule.fires, rule.condition], {"hall.movement"}, 300).after(np.array([20, 50], np.int64))
    of, times = lanes.real(lanes.columns.pulses(rule.fires).times)
    assert (of.tolist(), times.tolist()) == ([1], [30])
    starts, ends = standing(lanes.columns, rule.condition)
    of, starts = lanes.real(starts)
    assert (of.tolist(), starts.tolist(), (ends - lanes.shift[of]).tolist()) == ([1], [50], [70])
