"""Lanes of a day, an hour, a minute: 1440 pixels wide, so that a pixel of a day is a minute."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.drawn import classed, corners, stretches

from stillwell.charts.part_lanes import PIXELS, lane
from stillwell.charts.silence_lane import HIGH, silence_lane
from stillwell.charts.week_hours import week_hours
from stillwell.record.columns import FALSE, TRUE, UNKNOWN, Pulses, Steps

pytestmark = pytest.mark.base

DAY_MS = 86_400_000
HOUR_MS = 3_600_000
MINUTE_MS = 60_000
DAY = (10 * DAY_MS, 11 * DAY_MS)


def times(*minutes):
    return np.array([DAY[0] + minute * MINUTE_MS for minute in minutes], np.int64)


def level(minutes, values):
    return Steps(times(*minutes), np.array(values, np.int8))


def ticks(drawing):
    return [run[0][0] for each in classed(drawing, "tick") for run in corners(each.get("d"))]


def test_pulses_are_ticks_and_what_falls_into_one_pixel_is_one():
    column = Pulses(np.sort(np.concatenate([times(60, 600), times(60) + 1000, times(-5, 1440)])))
    assert ticks(lane(column, DAY, DAY[1])) == [60.5, 600.5]


def test_a_level_is_a_bar_while_it_is_true():
    column = level([-30, 60, 120, 180], [TRUE, FALSE, TRUE, UNKNOWN])
    drawing = lane(column, DAY, DAY[1])
    assert stretches(drawing, "held") == [(0, 60, 5), (120, 180, 5)]
    assert stretches(drawing, "unknown") == [(180, 1440, 5)]


def test_nothing_is_drawn_beyond_what_is_known():
    drawing = lane(level([60], [TRUE]), DAY, DAY[0] + 100 * MINUTE_MS)
    assert stretches(drawing, "held") == [(60, 100, 5)]


def test_a_repeated_report_goes_on_with_its_bar():
    assert stretches(lane(level([60, 70, 80], [TRUE, TRUE, FALSE]), DAY, DAY[1]), "held") == [(60, 80, 5)]


def test_a_number_runs_from_its_least_at_the_foot_to_its_greatest_at_the_top():
    column = Steps(times(-10, 60, 120), np.array([20.0, 22.0, 21.0]))
    ((*run,),) = [corners(each.get("d"))[0] for each in classed(lane(column, DAY, DAY[1]), "number")]
    assert run == [(0, 9), (60, 9), (60, 1), (120, 1), (120, 5), (1440, 5)]


def test_a_number_that_is_unknown_is_not_drawn():
    assert classed(lane(Steps(times(60), np.array([np.nan])), DAY, DAY[1]), "number") == []


@given(st.lists(st.integers(0, DAY_MS - 1), max_size=50), st.sampled_from([DAY_MS, HOUR_MS, MINUTE_MS]))
def test_each_pulse_of_a_window_has_its_tick(offsets, length):
    window = (DAY[0], DAY[0] + length)
    instants = np.array(sorted(DAY[0] + offset for offset in set(offsets)), np.int64)
    expected = sorted({(int(at) - window[0]) * PIXELS // length + 0.5 for at in instants if at < window[1]})
    assert ticks(lane(Pulses(instants), window, window[1])) == expected


class TestSilence:
    def test_it_grows_to_the_next_sign_and_what_passes_the_limit_is_late(self):
        """Signs at 06:00 and 12:00, then none; 5 h are allowed after the first, 20 h after the second."""
        signs, limits = times(360, 720), np.array([5 * HOUR_MS, 20 * HOUR_MS], np.int64)
        drawing, high_ms = silence_lane(signs, limits, DAY)
        assert high_ms == round(20 * HOUR_MS * 1.08)
        tips = [min(run, key=lambda corner: corner[1]) for run in self.runs(drawing, "grows")]
        hours = [(x, (HIGH - y) / HIGH * high_ms / HOUR_MS) for x, y in tips]
        assert hours == [(720, pytest.approx(6, abs=0.05)), (1440, pytest.approx(12, abs=0.05))]
        (late,) = self.runs(drawing, "late")
        assert {x for x, _ in late} == {660, 720}
        assert [(run[0][0], run[-1][0]) for run in self.runs(drawing, "limit")] == [(360, 720), (720, 1440)]

    def test_a_silence_from_before_the_day_comes_in_grown(self):
        drawing, high_ms = silence_lane(times(-300, 60), np.array([4 * HOUR_MS, HOUR_MS * 24], np.int64), DAY)
        first, _ = self.runs(drawing, "grows")
        assert first[1][0] == 0
        assert (HIGH - first[1][1]) / HIGH * high_ms / HOUR_MS == pytest.approx(5, abs=0.05)
        (late,) = self.runs(drawing, "late")
        assert {x for x, _ in late} == {0, 60}

    def test_without_signs_there_is_an_empty_drawing(self):
        drawing, _ = silence_lane(np.empty(0, np.int64), np.empty(0, np.int64), DAY)
        assert self.runs(drawing, "grows") == []

    def runs(self, drawing, look):
        return [run for each in classed(drawing, look) for run in corners(each.get("d"))]


def test_the_hours_of_a_person_are_bars_of_the_week():
    week = (0, 7 * DAY_MS)
    drawing = week_hours(
        week, [(-HOUR_MS, 6 * HOUR_MS)], [(8 * HOUR_MS, 20 * HOUR_MS), (6 * DAY_MS, 8 * DAY_MS)], "Ben"
    )
    bars = [(float(each.get("x")), float(each.get("width"))) for each in classed(drawing, "reachable")]
    assert bars == [(8, 12), (144, 24)]
    assert [(each.get("x"), each.get("width")) for each in classed(drawing, "night")] == [("0", "6")]
