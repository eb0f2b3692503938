"""Exact intervals for the rate of false alarms, against printed tables and two other programs."""

import pytest
from scipy import stats

from stillwell.replay.rates import DAY_MS, poisson_interval, rate

MONTH_MS = 30 * DAY_MS

GARWOOD = {
    0: (0.0, 3.6889),
    1: (0.0253, 5.5716),
    2: (0.2422, 7.2247),
    3: (0.6187, 8.7673),
    4: (1.0899, 10.2416),
    5: (1.6235, 11.6683),
    6: (2.2019, 13.0595),
    7: (2.8144, 14.4227),
    8: (3.4538, 15.7632),
    9: (4.1154, 17.0848),
    10: (4.7954, 18.3904),
    15: (8.3954, 24.7402),
    20: (12.2165, 30.8884),
    25: (16.1787, 36.9049),
}
"""Garwood, "Fiducial limits for the Poisson distribution", Biometrika 28 (1936): 95 %, to four places.

Computed from the chi-square formula; the printed table from memory.
"""

GARWOOD_LARGE = {50: (37.111, 65.919), 100: (81.364, 121.627)}


@pytest.mark.parametrize("count", GARWOOD)
def test_table_of_garwood(count):
    low, high = poisson_interval(count)
    assert (round(low, 4), round(high, 4)) == GARWOOD[count]


@pytest.mark.parametrize("count", GARWOOD_LARGE)
def test_table_of_garwood_to_three_places(count):
    low, high = poisson_interval(count)
    assert (round(low, 3), round(high, 3)) == GARWOOD_LARGE[count]


@pytest.mark.parametrize("confidence", [0.5, 0.9, 0.95, 0.99, 0.999])
@pytest.mark.parametrize("count", [0, 1, 2, 3, 7, 19, 60, 180, 500, 2_000, 30_000])
def test_as_the_chi_square_quantiles(count, confidence):
    """Johnson, Kotz, Kemp, "Univariate discrete distributions", on Poisson limits (from memory); scipy judges."""
    tail = (1 - confidence) / 2
    low, high = poisson_interval(count, confidence)
    assert low == pytest.approx(0 if count == 0 else stats.chi2.ppf(tail, 2 * count) / 2, rel=1e-9)
    assert high == pytest.approx(stats.chi2.ppf(1 - tail, 2 * count + 2) / 2, rel=1e-9)


@pytest.mark.parametrize("count", [1, 4, 40])
def test_its_ends_are_just_not_refuted(count):
    """The definition: at the lower end so many or more have a chance of 2.5 %, at the upper so many or fewer."""
    low, high = poisson_interval(count)
    assert stats.poisson.sf(count - 1, low) == pytest.approx(0.025, rel=1e-9)
    assert stats.poisson.cdf(count, high) == pytest.approx(0.025, rel=1e-9)


def test_poisson_test_of_r_as_the_statsmodels_suite_prints_it():
    """statsmodels 0.15, test_rates_poisson.py: 15 in an exposure of 400, results of R's poisson.test."""
    found = rate(15, 400 * MONTH_MS)
    assert found.per_30_days == 15 / 400
    assert found.low == pytest.approx(0.0209884653319583, rel=1e-12)
    assert found.high == pytest.approx(0.0618505471787146, rel=1e-12)


def test_poisson_test_of_r_as_its_help_page_has_it():
    """The example of R's help page for poisson.test, 137 in 24.19893 (the page from memory)."""
    found = rate(137, round(24.19893 * MONTH_MS))
    assert [round(one, 4) for one in (found.per_30_days, found.low, found.high)] == [5.6614, 4.7531, 6.6927]
