"""Tails and survival of silences against scipy and lifelines, two general reference libraries."""

import numpy as np
import pytest
from lifelines import KaplanMeierFitter
from scipy import stats

from stillwell.limits.silences import Silences
from stillwell.limits.survival import (
    HOUR_MS,
    LIMITS,
    SLOTS,
    STEP_MS,
    STEPS,
    along_the_length,
    around_the_clock,
    counted,
)
from stillwell.limits.tail import Tail, fit_pareto, fit_tail


def likelihood(excess, shape, scale):
    return float(stats.genpareto.logpdf(excess, shape, scale=scale).sum())


@pytest.mark.parametrize("shape", [-0.4, -0.1, 0.0, 0.2, 0.5])
@pytest.mark.parametrize("count", [30, 200, 2000])
def test_no_pareto_fits_better_than_ours(shape, count):
    excess = stats.genpareto.rvs(shape, scale=3.0, size=count, random_state=count)
    ours, theirs = fit_pareto(excess, None), stats.genpareto.fit(excess, floc=0)
    assert likelihood(excess, *ours) >= likelihood(excess, theirs[0], theirs[2]) - 1e-3


@pytest.mark.parametrize("shape", [-0.3, 0.0, 0.3])
def test_many_excesses_tell_the_shape(shape):
    excess = stats.genpareto.rvs(shape, scale=2.0, size=20_000, random_state=7)
    found_shape, found_scale = fit_pareto(excess, None)
    # the maximum likelihood estimate has standard deviation (1 + shape) / sqrt(n): Smith, Biometrika 72, 1985
    assert found_shape == pytest.approx(shape, abs=4 * (1 + shape) / np.sqrt(20_000))
    assert found_scale == pytest.approx(2.0, rel=0.06)


@pytest.mark.parametrize("shape", [-0.3, 0.0, 0.25])
@pytest.mark.parametrize("times", [40, 7, 1, 0.1, 0.01])
def test_expected_exceedances_and_their_values_are_inverse_and_scipys(shape, times):
    tail = Tail(threshold=5.0, shape=shape, scale=2.0, excesses=50)
    value = tail.value_exceeded(times)
    assert value == pytest.approx(5.0 + stats.genpareto.isf(times / 50, shape, scale=2.0), rel=1e-9)
    assert tail.expected_above(value) == pytest.approx(times, rel=1e-9)
    assert tail.expected_above(value) == pytest.approx(50 * stats.genpareto.sf(value - 5.0, shape, scale=2.0), rel=1e-9)


def test_the_threshold_is_the_next_value_below_the_excesses():
    tail = fit_tail(np.array([1.0, 9.0, 4.0, 2.0, 7.0, 3.0]), 3)
    assert tail.threshold == 3.0
    assert tail.excesses == 3


def test_a_prior_pulls_few_excesses_towards_the_exponential_tail_and_gives_way_to_many():
    few = stats.genpareto.rvs(0.6, size=12, random_state=3)
    many = stats.genpareto.rvs(0.6, size=20_000, random_state=3)
    assert abs(fit_pareto(few, 0.1)[0]) < abs(fit_pareto(few, None)[0])
    assert fit_pareto(many, 0.2)[0] == pytest.approx(fit_pareto(many, None)[0], abs=0.02)


def silences(lengths_ms, hour=0):
    zeros = np.zeros(len(lengths_ms), np.int64)
    lengths = np.array(lengths_ms, np.int64)
    return Silences(("hall_pir",), zeros, zeros + hour * HOUR_MS, lengths, zeros, 10)


@pytest.mark.parametrize("seed", range(5))
def test_counts_of_long_silences_are_kaplan_and_meiers(seed):
    # Without anything cut off, the estimator of Kaplan and Meier (1958) is the share that lasted longer.
    rng = np.random.default_rng(seed)
    steps = np.minimum(rng.geometric(0.05, 400), STEPS - 1)
    found = silences(steps * STEP_MS)
    counts = counted(found.part, found, 1)[0, 0]
    at_least = np.cumsum(counts[::-1])[::-1]
    judge = KaplanMeierFitter().fit(steps)
    for step in (1, 3, 10, 30, 70):
        just_before = float(judge.survival_function_at_times(step - 1e-9).iloc[0])
        assert at_least[step] / at_least[0] == pytest.approx(just_before, abs=1e-12)


def test_a_silence_counts_as_normally_distributed_about_its_own_length():
    chances = along_the_length(0.35)
    step, limit = np.arange(STEPS - 1)[:, None], np.arange(1, LIMITS)[None, :]
    expected = stats.norm.sf((limit - step - 0.5) * STEP_MS / HOUR_MS, scale=0.35)
    assert np.allclose(chances[:-1, 1:], expected, atol=1e-12)


def test_neighbours_around_the_clock_lend_weight_as_a_normal_curve_would():
    found = silences([3 * HOUR_MS] * 100, hour=12)
    lent = around_the_clock(counted(found.part, found, 1), 0.5, 0.0)[0].sum(axis=1)
    hours = (np.arange(-6, 7)) / 2
    expected = stats.norm.pdf(hours, scale=0.5)
    assert np.allclose(lent[24 - 6 : 24 + 7], 100 * expected / expected.sum(), rtol=1e-6)
    assert lent.sum() == pytest.approx(100)


@pytest.mark.parametrize("shear", [0.0, 0.5])
def test_smoothing_around_the_clock_keeps_the_number_of_silences(shear):
    counts = np.random.default_rng(1).poisson(2.0, (3, SLOTS, STEPS)).astype(float)
    assert around_the_clock(counts, 0.75, shear).sum() == pytest.approx(counts.sum(), rel=1e-9)
