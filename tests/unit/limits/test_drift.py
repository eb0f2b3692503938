"""A routine that moves is told of, one that stays is not."""

import numpy as np
import pytest
from lived import at, lived, record_of, with_signals

from stillwell.limits.cleaning import clean
from stillwell.limits.drift import drift
from stillwell.record.columns import Pulses

pytestmark = pytest.mark.base


def moved(before, after, days=45, at_day=30):
    """Return a record of two ways of life, the second from ``at_day`` on."""
    one, other = lived(days, seed=1, **before), lived(days, seed=2, **after)
    return record_of(
        {
            name: np.union1d(
                one.signals[name].times[one.signals[name].times < at(at_day)],
                other.signals[name].times[other.signals[name].times >= at(at_day)],
            )
            for name in one.signals
        },
        one.span,
    )


def test_somebody_who_rises_an_hour_and_a_half_later_is_noticed():
    (found,) = [each for each in drift(clean(moved({}, {"rise": 8.5}))) if each.figure == "begins"]
    assert found.recent - found.before == pytest.approx(90, abs=25)
    assert found.days == (31, 14)


def test_a_routine_that_stays_is_not_noticed():
    assert [drift(clean(lived(60, seed=seed))) for seed in range(8)] == [[]] * 8


def test_days_before_and_after_the_limits_were_learned_are_compared():
    cleaned = clean(moved({}, {"rise": 8.5}))
    assert "begins" in {each.figure for each in drift(cleaned, at(30))}
    assert drift(cleaned, at(40)) == []  # five days since: too few to tell


def test_half_the_movement_is_noticed():
    record = moved({}, {})
    thinned = {
        name: np.concatenate([column.times[column.times < at(30)], column.times[column.times >= at(30)][::2]])
        for name, column in record.signals.items()
    }
    found = {each.figure: each for each in drift(clean(record_of(thinned, record.span)))}
    assert found["signs"].recent == pytest.approx(found["signs"].before / 2, rel=0.15)


def test_a_detector_that_died_is_not_taken_for_a_change_of_the_person():
    record = lived(60)
    times = record.signals["kitchen_pir.movement"].times
    dead = with_signals(record, kitchen_pir__movement=Pulses(times[times < at(46)]))
    assert [each.figure for each in drift(clean(dead))] == []


def test_clocks_going_forward_move_nobody():
    # 29 March 2026 is day 83; the last two weeks lie after it, on the same clock on the wall.
    assert drift(clean(lived(97))) == []
