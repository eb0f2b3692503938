"""What an invented home says when it is played: how it stands first, then what happens, with what befalls it."""

from datetime import date
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from tests.trial_home import PLAN

from stillwell.plan.read import read_plan
from stillwell.proof.faults import LATE_MS
from stillwell.record.columns import Pulses, Record, Steps
from stillwell.simulate.events import break_in_words, hazard_in_words
from stillwell.simulate.radio import NO_FAULTS
from stillwell.simulate.run import simulate
from stillwell.simulate.script import STUCK_EVERY_MS, script

pytestmark = pytest.mark.base

ZONE = ZoneInfo("Europe/London")
NOON_MS = 1_772_452_800_000  # 2026-03-02 12:00 UTC
HOUR_MS = 3_600_000
PARTS = '[parts.tap]\nheartbeat = "30min"'


@pytest.fixture(scope="module")
def plan():
    return read_plan(PLAN.replace("[parts.tap]", PARTS), "home.toml")


@pytest.fixture(scope="module")
def record(plan):
    return simulate(plan, 1, 3, date(2026, 3, 2), NO_FAULTS)


def of(said, name):
    return [(at_ms - NOON_MS, value) for at_ms, one, value in said if one == name]


def test_first_it_says_how_everything_stands_and_then_what_the_record_holds():
    signals = {
        "tap.wet": Steps(np.array([5, 20]), np.array([0, 2], np.int8)),
        "tap.battery": Steps(np.array([1, 9]), np.array([80.0, np.nan])),
        "hall_pir.movement": Pulses(np.array([3, 10, 12])),
    }
    plan = read_plan(PLAN, "home.toml")
    assert script(plan, Record("Europe/London", (0, 21), signals), 10) == [
        (10, "hall_pir.movement", 1.0),
        (10, "tap.battery", None),
        (10, "tap.wet", 0.0),
        (12, "hall_pir.movement", 1.0),
        (20, "tap.wet", 1.0),
    ]


def test_it_is_in_order_and_nothing_comes_before_its_beginning(plan, record):
    said = script(plan, record, NOON_MS)
    assert said == sorted(said, key=lambda one: one[0])
    assert said[0][0] == NOON_MS
    assert len(of(said, "hall_pir.movement")) > 10


def test_after_a_collapse_there_is_no_sign_of_life_but_parts_go_on_saying_that_they_are_there(plan, record):
    said = script(plan, record, NOON_MS, [hazard_in_words(plan, "collapse in 1h", NOON_MS, ZONE)])
    assert max(at_ms for at_ms, _ in of(said, "hall_pir.movement")) < HOUR_MS
    assert max(at_ms for at_ms, _ in of(said, "tap.alive")) > 5 * HOUR_MS


def test_water_makes_the_part_wet_for_good(plan, record):
    said = script(plan, record, NOON_MS, [hazard_in_words(plan, "water in 1h", NOON_MS, ZONE)])
    assert of(said, "tap.wet") == [(0, 0.0), (HOUR_MS, 1.0)]


def test_a_lost_part_says_nothing_and_then_how_it_stands(plan, record):
    said = script(plan, record, NOON_MS, (), [break_in_words(plan, "tap lost in 1h for 2h", NOON_MS, ZONE)])
    beats = [at_ms for at_ms, _ in of(said, "tap.alive")]
    assert not [at_ms for at_ms in beats if HOUR_MS <= at_ms < 3 * HOUR_MS]
    assert [at_ms for at_ms in beats if at_ms >= 3 * HOUR_MS]
    assert of(said, "tap.wet") == [(0, 0.0), (3 * HOUR_MS, 0.0)]


def test_a_stuck_part_says_one_thing_over_and_over_and_that_it_is_there(plan, record):
    stuck = [break_in_words(plan, f"{part} stuck in 1h for 1h", NOON_MS, ZONE) for part in ("tap", "hall_pir")]
    said = script(plan, record, NOON_MS, (), stuck)
    assert of(said, "tap.wet") == [(0, 0.0), (HOUR_MS, 1.0), (2 * HOUR_MS, 0.0)]
    assert len([at_ms for at_ms, _ in of(said, "tap.alive") if HOUR_MS <= at_ms < 2 * HOUR_MS]) >= 1
    moves = [at_ms for at_ms, _ in of(said, "hall_pir.movement") if HOUR_MS <= at_ms < 2 * HOUR_MS]
    assert moves == list(range(HOUR_MS, 2 * HOUR_MS, STUCK_EVERY_MS))


def test_a_late_part_says_everything_later(plan, record):
    usual = of(script(plan, record, NOON_MS), "hall_pir.movement")
    late = of(
        script(plan, record, NOON_MS, (), [break_in_words(plan, "hall_pir late in 1ms", NOON_MS, ZONE)]),
        "hall_pir.movement",
    )
    end_ms = record.span[1] - NOON_MS
    assert late == [(at_ms + LATE_MS, value) for at_ms, value in usual if at_ms + LATE_MS < end_ms]


def test_a_power_cut_silences_what_hangs_on_the_mains():
    power = """
[parts.board]
kind = "controller"
room = "hall"
hold_up = "6h"

[parts.plug]
kind = "outlet"
room = "hall"
heartbeat = "10min"
hold_up = "1h"

[[hazard]]
name = "no power"
kind = "no power"
deadline = { day = "1h", night = "1h" }

[[alarm]]
name = "No power"
hazard = "no power"
when = "not board.mains"
call = "family"
"""
    plan = read_plan(PLAN + power, "home.toml")
    record = simulate(plan, 1, 3, date(2026, 3, 2), NO_FAULTS)
    said = script(plan, record, NOON_MS, [hazard_in_words(plan, "no power in 1h", NOON_MS, ZONE)])
    assert of(said, "board.mains")[-1] == (HOUR_MS, 0.0)
    beats = [at_ms for at_ms, _ in of(said, "plug.alive")]
    assert HOUR_MS < max(beats) < 2 * HOUR_MS
