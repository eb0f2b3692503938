"""The witness of a worst case raises the alarm at the proven instant, in both evaluators of the real engine."""

from pathlib import Path

import numpy as np
import pytest
from tests.oracle.asked import first_asked, first_told
from tests.smallest import REACHED_AFTER_MS, alarm, plan_of

from stillwell.civiltime import local_datetime
from stillwell.engine import columns, walk
from stillwell.plan.read import read_plan
from stillwell.proof.prove import prove
from stillwell.proof.proved import Shown
from stillwell.proof.witness import FOLLOWED_MS
from stillwell.record.columns import Pulses, Steps
from stillwell.record.text import read_text, write_text
from stillwell.replay.chain import Chain

COTTAGE = Path(__file__).parents[3] / "examples/cottage/home.toml"
HOUR_MS = 3_600_000


@pytest.fixture(scope="module")
def cottage():
    plan = read_plan(COTTAGE.read_text("utf-8"), "home.toml")
    return plan, prove(plan, 2026, faults=())


def shown(plan, year=2026, **keys):
    proof = prove(plan, year, faults=(), **keys)
    return [Shown(plan, proof, result) for result in proof.hazards]


@pytest.mark.parametrize("evaluate", [columns.run, walk.run])
@pytest.mark.parametrize("number", range(9))
def test_the_engine_runs_each_witness_of_the_cottage_to_the_proven_instant(cottage, number, evaluate):
    plan, proof = cottage
    case = Shown(plan, proof, proof.hazards[number])
    assert case.witness is not None
    record = read_text(write_text(case.witness.record))
    outcome = evaluate(proof.program, record)
    assert first_told(plan, Chain(plan), outcome, case.result.alarms, case.onset_ms) == case.told_ms
    worst_s = case.result.normal.worst_s
    if worst_s is None:
        assert all(first_asked(outcome, name, case.onset_ms) is None for name in case.result.alarms)
        assert record.span[1] == case.onset_ms + FOLLOWED_MS
    else:
        assert case.told_ms - case.onset_ms == pytest.approx(worst_s * 1000, abs=1)  # a limit lies 1 ms beside


def test_a_check_once_a_day_finds_a_silence_of_12_h_after_36_h_at_worst():
    # design: "no movement for 12 h, looked at once a day at 08:00" sounds like 12 h and is 36 h: just after 20:00 the
    # next morning's look comes a moment too soon
    plan = plan_of(
        parts={"pir": {"kind": "movement"}},
        signals={"sign_of_life": "pir.movement"},
        alarm=[alarm("at 08:00 and no sign_of_life for 12h")],
    )
    (case,) = shown(plan)
    assert local_datetime(case.proof.program.home.zone, case.onset_ms).strftime("%H:%M:%S.%f") == "20:00:00.001000"
    outcome = walk.run(case.proof.program, case.witness.record)
    raised = first_asked(outcome, case.result.alarms[0], case.onset_ms)
    assert raised - case.onset_ms == 36 * HOUR_MS - 1
    assert case.told_ms == raised + REACHED_AFTER_MS


def test_reports_and_nothing_else_are_in_a_witness(cottage):
    plan, proof = cottage
    for result in proof.hazards:
        record = Shown(plan, proof, result).witness.record
        for name, column in record.signals.items():
            part, _, word = name.partition(".")
            assert part in (plan.parts if word else plan.states)
            assert isinstance(column, Pulses | Steps)
            assert (np.diff(column.times) > 0).all()
        assert record.events == sum(len(column.times) for column in record.signals.values())


def test_no_part_is_lost_that_the_world_does_not_say_is(cottage):
    plan, proof = cottage
    for result in proof.hazards:
        case = Shown(plan, proof, result)
        outcome = columns.run(proof.program, case.witness.record)
        lost = {
            name.partition(".")[0]
            for name, level in outcome.levels.items()
            if name.endswith(".lost") and level.values.any()
        }
        assert lost <= set(case.scene.world.lost)


def test_a_part_is_lost_at_the_millisecond_that_the_world_says():
    # the mains fail: the outlet is silent from then on and counts as lost its supervision time later
    plan = plan_of(
        parts={
            "box": {"kind": "controller", "hold_up": "6h"},
            "kettle": {"kind": "outlet", "supervision": "20min"},
        },
        hazard=[{"name": "dark", "kind": "no power", "deadline": {"day": "1h", "night": "1h"}}],
        alarm=[{"name": "dark", "hazard": "dark", "call": "family", "when": "kettle.lost and not box.mains"}],
    )
    (case,) = shown(plan)
    assert case.told_ms == case.onset_ms + 20 * 60_000 + REACHED_AFTER_MS
    assert case.witness.noticed.raised == {"dark": case.onset_ms + 20 * 60_000}


def test_the_state_that_the_worst_case_needs_is_set_just_before_the_onset():
    # a door sets "away"; whether it is on or off at the onset is not ours to choose, and on is worse
    plan = plan_of(
        rooms={"hall": {"outline": [[0, 0], [3, 0], [3, 3]]}},
        openings={"door": {"kind": "door", "rooms": ["hall", "outside"]}},
        parts={
            "pir": {"kind": "movement"},
            "bed": {"kind": "movement"},
            "contact": {"kind": "contact", "opening": "door"},
        },
        signals={"sign_of_life": "pir.movement or bed.movement"},
        states={"away": {"values": ["off", "on"], "initial": "off"}},
        alarm=[alarm("no sign_of_life for 3h", **{"while": "away is off"})],
        aid=[
            {"name": "out", "when": "contact.closed without pir.movement within 10min", "do": ["set away to on"]},
            {"name": "back", "when": "pir.movement", "do": ["set away to off"]},
        ],
    )
    (case,) = shown(plan)
    assert case.told_ms is None  # gone out, says the home; and she lies in the bedroom
    reported = case.witness.record.signals["away"]
    assert reported.times.tolist()[-1] == case.onset_ms - 1
    outcome = walk.run(case.proof.program, case.witness.record)
    assert first_asked(outcome, case.result.alarms[0], case.onset_ms) is None
