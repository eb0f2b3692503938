"""The arithmetic of step functions, on numbers small enough to see."""

import numpy as np
import pytest

from stillwell.engine.axis import (
    Axis,
    changes_of_known,
    cover,
    level_from_runs,
    merge_equal,
    runs,
    steps_from,
    union,
)
from stillwell.record.columns import FALSE, TRUE, UNKNOWN, Pulses, Steps

pytestmark = pytest.mark.base

F, U, T = FALSE, UNKNOWN, TRUE
ONE = Axis.of_span(0, 100)
TWO = Axis(np.array([0, 1000]), np.array([100, 1100]), np.array([50, 1050]))


def times(*values):
    return np.array(values, np.int64)


def level(*changes):
    return Steps(times(*(time for time, _ in changes)), np.array([value for _, value in changes], np.int8))


def pairs(steps):
    return list(zip(steps.times.tolist(), steps.values.tolist(), strict=True))


def test_intervals_that_overlap_or_touch_become_one():
    starts, ends = cover(times(30, 0, 10, 50, 60), times(40, 10, 20, 50, 61))
    assert (starts.tolist(), ends.tolist()) == ([0, 30, 60], [20, 40, 61])


def test_one_interval_may_swallow_others():
    starts, ends = cover(times(0, 10, 20, 95), times(90, 15, 30, 99))
    assert (starts.tolist(), ends.tolist()) == ([0, 95], [90, 99])


def test_the_later_group_wins_at_one_time():
    steps = steps_from(ONE, [(times(10, 20), np.int8(T)), (times(10), np.int8(F))], np.int8(U))
    assert pairs(steps) == [(0, U), (10, F), (20, T)]


def test_a_change_at_the_start_replaces_the_initial_value_and_one_outside_counts_not():
    steps = steps_from(ONE, [(times(-1, 0, 100), np.array([F, T, F], np.int8))], np.int8(U))
    assert pairs(steps) == [(0, T)]


def test_each_lane_keeps_its_own_start():
    steps = steps_from(TWO, [(times(10, 500, 1010), np.int8(T))], np.array([T, F], np.int8))
    assert pairs(steps) == [(0, T), (1000, F), (1010, T)]


def test_repeated_values_are_dropped_but_at_the_start_of_a_lane():
    repeated = level((0, T), (10, T), (1000, T), (1020, F), (1030, F))
    assert pairs(merge_equal(TWO, repeated.times, repeated.values)) == [(0, T), (1000, T), (1020, F)]


def test_unknown_numbers_are_equal():
    found = merge_equal(ONE, times(0, 1, 2, 3), np.array([np.nan, np.nan, 1.0, np.nan]))
    assert found.times.tolist() == [0, 2, 3]


def test_a_stretch_ends_with_its_lane():
    starts, ends = runs(TWO, level((0, F), (90, T), (1000, T), (1005, F)), T)
    assert (starts.tolist(), ends.tolist()) == ([90, 1000], [100, 1005])


@pytest.mark.parametrize(
    ("true", "unknown", "expected"),
    [
        ((10, 20), (30, 40), [(0, F), (10, T), (20, F), (30, U), (40, F)]),
        ((10, 20), (0, 15), [(0, U), (10, T), (20, F)]),
        ((10, 20), (15, 40), [(0, F), (10, T), (20, U), (40, F)]),
        ((10, 20), (0, 40), [(0, U), (10, T), (20, U), (40, F)]),
        ((10, 20), (10, 20), [(0, F), (10, T), (20, F)]),
        ((10, 20), (0, 20), [(0, U), (10, T), (20, F)]),
        ((10, 20), (20, 40), [(0, F), (10, T), (20, U), (40, F)]),
    ],
)
def test_true_stands_over_unknown(true, unknown, expected):
    true, unknown = ((times(one[0]), times(one[1])) for one in (true, unknown))
    assert pairs(level_from_runs(ONE, true, unknown)) == expected


def test_an_unknown_stretch_between_equal_values_is_no_change():
    steps = level((0, U), (5, T), (10, U), (15, T), (20, U), (25, F), (30, F), (40, T))
    found, values = changes_of_known(ONE, steps)
    assert list(zip(found.tolist(), values.tolist(), strict=True)) == [(5, T), (25, F), (40, T)]


def test_changes_before_a_lane_is_decided_are_only_remembered():
    steps = level((0, F), (40, T), (60, F), (1000, U), (1070, T))
    found, values = changes_of_known(TWO, steps, np.array([F, T], np.int8))
    # the first lane was last known false, as the rule saw it, and is true at 50; the second only becomes true again
    assert list(zip(found.tolist(), values.tolist(), strict=True)) == [(50, T), (60, F)]


def test_instants_of_several_signals():
    assert union([Pulses(times(1, 5)), Pulses(times()), Pulses(times(1, 3))]).times.tolist() == [1, 3, 5]
    assert union([Pulses(times())]).times.tolist() == []
