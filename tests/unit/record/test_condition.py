"""What an invented home's log says of itself; the calendar stands in invented_home.py, which made it."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from invented_home import (
    BACK,
    CALLS,
    DOOR_LAST,
    DOOR_LOST,
    END,
    FORWARD,
    KITCHEN_LAST,
    LEFT,
    QUIET_FROM,
    QUIET_TO,
    RENAMED,
    RENAMED_FIRST,
    RETURNED,
    START,
    invented_rows,
    log_lines,
)

from stillwell.record.columns import FALSE, TRUE, Pulses, Record, Steps
from stillwell.record.condition import condition
from stillwell.record.importing import import_lines
from stillwell.record.parts import Dead, Replaced
from stillwell.record.rows import numbered
from stillwell.record.stuck import Stuck

pytestmark = pytest.mark.base

PARIS = ZoneInfo("Europe/Paris")
MINUTE, HOUR, DAY = 60_000, 3_600_000, 86_400_000


def ms(local: datetime) -> int:
    return round(local.replace(tzinfo=PARIS).timestamp() * 1000)


@pytest.fixture(scope="module")
def found(invented):
    return condition(invented.record)


def test_dead_parts_are_told_by_link_and_by_silence(found):
    assert found.dead == (
        Dead("front_door", ms(DOOR_LAST), ms(DOOR_LOST), "link lost and never back"),
        Dead("kitchen_pir", ms(KITCHEN_LAST), None, "silent to the end"),
    )


def test_a_door_that_died_open_stands_open_to_the_end(found):
    assert found.stuck == (Stuck("front_door.open", ms(DOOR_LAST), ms(END) + 1, for_good=True),)


def test_a_renamed_detector_is_no_loss(found):
    assert found.replaced == (Replaced("shower_pir", "bathroom_pir", ms(RENAMED), ms(RENAMED_FIRST)),)


def test_a_weak_link_comes_and_goes(found):
    (weak,) = found.weak_links
    assert (weak.part, weak.losses) == ("bedroom_pir", 30)


def test_empty_but_for_calls(found):
    (empty,) = found.empty
    assert (empty.start_ms, empty.end_ms, empty.calls) == (ms(LEFT), ms(RETURNED), len(CALLS))
    assert empty.signs == 11 * len(CALLS)


def test_occupied_runs_leave_out_fitting_gap_and_empty_stretch(found):
    fitting, first, second = found.runs
    assert (fitting.start_ms, fitting.end_ms) == (ms(START), ms(START) + 58 * MINUTE + 1)
    assert (first.start_ms, first.end_ms) == (ms(BACK), ms(LEFT))
    assert (second.start_ms, second.end_ms) == (ms(RETURNED), ms(END) + 1)
    assert second.days == pytest.approx(41.375, abs=0.001)  # an hour less than by the clock on the wall


def test_no_row_of_any_kind_is_a_gap(found):
    assert (found.no_report[0].start_ms, found.no_report[0].end_ms) == (ms(START) + 58 * MINUTE, ms(BACK))
    assert all(gap.reason == "no report" for gap in found.no_report)
    assert len(found.no_report) == 1 + len(CALLS) + 1


def test_a_quiet_spell_out_of_habit(found):
    (quiet,) = [spell for spell in found.quiet if spell.part == "bedroom_pir"]
    assert (quiet.start_ms, quiet.end_ms) == (ms(QUIET_FROM), ms(QUIET_TO))
    assert quiet.chance < 0.001


def test_battery_falls_six_per_cent_a_week(found):
    lounge = next(part for part in found.parts if part.part == "lounge_pir")
    assert (lounge.battery.first_percent, lounge.battery.last_percent) == (90, 72)
    # one of the weeks is 167 hours long: the clocks go forward
    assert lounge.battery.per_30_days == pytest.approx(-6 / 7 * 30, rel=0.01)


def test_a_log_that_follows_the_clock_agrees(found):
    (change,) = found.clock_changes
    assert (change.at_ms, change.change_min, change.verdict) == (ms(FORWARD + timedelta(hours=1)), 60, "agrees")
    assert abs(change.shift_min) < 3 * change.error_min
    assert change.days == (28, 28)


def test_a_log_that_keeps_the_old_time_does_not(found, invented_mapping):
    hour = timedelta(hours=1)
    unfollowed = [(time - hour if time >= FORWARD else time, *rest) for time, *rest in invented_rows()]
    record = import_lines(numbered(log_lines(unfollowed)), invented_mapping).record
    (change,) = condition(record).clock_changes
    assert change.verdict == "not followed"
    assert change.shift_min == pytest.approx(found.clock_changes[0].shift_min - 60, abs=1)


def test_too_few_days_after_a_change_cannot_tell(invented_mapping):
    early = [row for row in invented_rows() if row[0] < FORWARD + timedelta(days=2)]
    record = import_lines(numbered(log_lines(early)), invented_mapping).record
    (change,) = condition(record).clock_changes
    assert (change.verdict, change.shift_min) == ("cannot tell", None)


def test_the_ones_to_say_what_is_life_are_asked_first(invented):
    only_door = condition(invented.record, {"front_door.open"})
    assert only_door.runs[0].signs_per_day.keys() == {"front_door.open"}


def test_a_part_used_now_and_then_is_not_called_dead():
    """Every tenth day of forty: ten more without it are its habit."""
    often = np.arange(0, 50 * DAY, HOUR, np.int64)
    seldom = np.arange(0, 41 * DAY, 10 * DAY, np.int64)
    record = Record("UTC", (0, 50 * DAY), {"hall_pir.movement": Pulses(often), "drawer.movement": Pulses(seldom)})
    found = condition(record)
    assert not found.dead
    assert not found.quiet
    drawer = next(part for part in found.parts if part.part == "drawer")
    # 4 silences of 10 days, of which 9 lie beyond the first: (36 + 1) / (40 + 2), Laplace's rule
    assert drawer.day_without_chance == pytest.approx(37 / 42)
    assert drawer.longest_silence == (0, 10 * DAY)


def test_a_level_left_true_overnight_is_not_stuck_and_one_left_for_days_is():
    opened = np.array([0, 20, 100, 122, 200, 270], np.int64) * HOUR
    door = Steps(opened, np.array([TRUE, FALSE] * 3, np.int8))
    hall = np.arange(0, 300 * HOUR, HOUR, np.int64)
    record = Record("UTC", (0, 300 * HOUR), {"door.open": door, "hall_pir.movement": Pulses(hall)})
    assert condition(record).stuck == ()  # 20, 22 and 70 h: it stands long anyway
    briefly = Steps(opened, np.array([TRUE, FALSE] * 3, np.int8))
    briefly.times[1], briefly.times[3] = HOUR // 2, 101 * HOUR
    record = Record("UTC", (0, 300 * HOUR), {"door.open": briefly, "hall_pir.movement": Pulses(hall)})
    assert condition(record).stuck == (Stuck("door.open", 200 * HOUR, 270 * HOUR, for_good=False),)


def test_a_record_without_any_sign_of_life_is_empty_from_end_to_end():
    record = Record("UTC", (0, 3 * DAY), {"mains.power": Steps(np.array([0, DAY]), np.array([1.0, 2.0]))})
    found = condition(record)
    assert [(empty.start_ms, empty.end_ms, empty.calls) for empty in found.empty] == [(0, 3 * DAY, 0)]
    assert found.runs == ()
