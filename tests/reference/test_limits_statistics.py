"""The statistics behind learned limits, against scipy, a general reference library."""

import numpy as np
import pytest
from scipy import stats

from stillwell.limits.climb import PRICES_H, rung
from stillwell.limits.drift import rank_doubt
from stillwell.limits.support import days_needed, most_alarms


@pytest.mark.parametrize("confidence", [0.9, 0.95, 0.99])
@pytest.mark.parametrize("alarms", [0, 1, 2, 3, 7, 20])
def test_upper_bound_of_a_poisson_mean(alarms, confidence):
    # The one-sided bound is half a chi-square quantile with 2 (k + 1) degrees of freedom (Garwood 1936).
    assert most_alarms(alarms, confidence) == pytest.approx(stats.chi2.ppf(confidence, 2 * (alarms + 1)) / 2, rel=1e-9)


@pytest.mark.parametrize("alarms", [0, 1, 2, 5])
@pytest.mark.parametrize("budget_days", [30, 60, 180])
def test_a_home_just_over_budget_seldom_passes_for_one_that_keeps_it(alarms, budget_days):
    # By scipy's own Poisson distribution: at the budget's rate so few alarms come in at most 5 % of such records.
    days = days_needed(budget_days, alarms)
    assert stats.poisson.cdf(alarms, days / budget_days) <= 0.05
    assert stats.poisson.cdf(alarms, (days - 1) / budget_days) > 0.05


@pytest.mark.parametrize("seed", range(20))
def test_rank_sum_with_and_without_ties(seed):
    rng = np.random.default_rng(seed)
    one, other = rng.normal(0, 1, 9 + seed), rng.normal(0.5, 1, 25 - seed)
    if seed % 2:
        one, other = np.round(one), np.round(other)
    found = stats.mannwhitneyu(one, other, alternative="two-sided", method="asymptotic", use_continuity=True)
    assert rank_doubt(one, other) == pytest.approx(min(1.0, found.pvalue), rel=1e-9)


def test_days_that_are_all_alike_tell_of_no_change():
    assert rank_doubt(np.zeros(10), np.zeros(14)) == 1.0


@pytest.mark.parametrize("allowed", [0, 1, 3])
@pytest.mark.parametrize("days", [28, 59, 120])
def test_coverage_of_the_rung_that_days_left_out_choose(days, allowed):
    """One of n + 1 exchangeable scores exceeds the (k + 1)-th largest other with a chance of (k + 1) / (n + 1) at most.

    Vovk, Gammerman, Shafer, "Algorithmic Learning in a Random World", 2005: the conformal argument, which holds for any
    distribution; here for three, by simulation. With ties the chance is less.
    """
    rng = np.random.default_rng(days + allowed)
    trials = 4000
    bound = (allowed + 1) / (days + 1)
    for scores in (
        rng.integers(0, len(PRICES_H), (trials, days + 1)),
        np.minimum(rng.geometric(0.08, (trials, days + 1)), len(PRICES_H)),
        np.minimum(np.round(rng.lognormal(2.0, 0.7, (trials, days + 1))), len(PRICES_H)),
    ):
        rungs = np.array([rung(row[:-1].astype(float), None, allowed) for row in scores])
        exceeded = float((scores[:, -1] > rungs).mean())
        error = np.sqrt(bound / trials)
        assert exceeded <= bound + 3.5 * error
        assert exceeded >= 0.4 * bound - 3.5 * error
