"""What quiet days carry. The table of days is that of the exact one-sided Poisson bound at 95 %."""

import pytest

from stillwell.limits.support import days_needed, support

pytestmark = pytest.mark.base


@pytest.mark.parametrize(("alarms", "days"), [(0, 540), (1, 854), (2, 1134), (3, 1396)])
def test_days_needed_for_one_in_180(alarms, days):
    # Garwood 1936: upper 95 % bounds 2.9957, 4.7439, 6.2958, 7.7537 of a Poisson mean, times 180 days, rounded up.
    assert days_needed(180, alarms) == days


def test_a_record_that_carries_its_budget_needs_no_more_days():
    told = support(60, 0, 182)
    assert told.shown
    assert told.more_days == 0
    assert told.least_days == pytest.approx(182 / 2.995732, rel=1e-6)  # -ln 0.05


def test_half_a_year_cannot_carry_one_in_180_days():
    told = support(180, 0, 182)
    assert not told.shown
    assert told.more_days == 540 - 182


def test_each_false_alarm_costs_further_quiet_days():
    assert support(60, 2, 182).more_days == 378 - 182  # 60 * 6.2958 = 377.7


def test_no_days_at_all_carry_nothing():
    assert support(30, 0, 0).more_days == 90
    assert not support(30, 0, 0).shown
