"""Unavailability of tested, repaired and paired parts and of the mains: published or hand-worked figures."""

import math

import pytest

from stillwell.proof.tree.bdd import probability
from stillwell.proof.tree.common_cause import with_common_cause
from stillwell.proof.tree.rates import (
    availability,
    beta_pair_unavailability,
    failed_by,
    mains_unavailability,
    mains_unavailability_beyond,
    mean_outage_min,
    pair_unavailability_between_tests,
    steady_unavailability,
    unavailability_between_tests,
)
from stillwell.proof.tree.tree import And, Basic

pytestmark = pytest.mark.base


def test_tested_once_a_year():
    # scram, risk_analysis_tests.cc AnalyzeSil: mean of 1 - exp(-1e-5 t) over 8760 h is 0.04255 (the rule of thumb,
    # lambda tau / 2, says 0.0438).
    assert unavailability_between_tests(1e-5, 8760) == pytest.approx(0.04255, abs=5e-6)
    # More digits: worked out by hand from the formula.
    assert unavailability_between_tests(1e-5, 8760) == pytest.approx(0.042549, abs=5e-7)


def test_two_tested_together_once_a_year():
    # Worked out by hand (the rule of thumb, (lambda tau)^2 / 3, says 0.002558).
    assert pair_unavailability_between_tests(1e-5, 1e-5, 8760) == pytest.approx(0.0023965, abs=5e-8)


def test_mttf_and_mttr():
    # 1000 h and 8 h; IEC 61025 (from memory).
    assert availability(1000, 8) == pytest.approx(0.992063, abs=5e-7)
    assert steady_unavailability(1 / 1000, 8) == pytest.approx(1 - 0.992063, abs=5e-7)


# scram, risk_analysis_tests.cc AnalyzeProbabilityOverTime: 1e-5 per hour, after so many hours.
@pytest.mark.parametrize(("hours", "chance"), [(0, 0), (24, 2.399e-4), (48, 4.7989e-4), (72, 7.197e-4), (96, 9.595e-4)])
def test_failed_by_an_age(hours, chance):
    assert failed_by(1e-5, hours) == pytest.approx(chance, rel=1e-3, abs=0)


def test_beta_factor_pair():
    # bQ + ((1 - b)Q)^2 - bQ((1 - b)Q)^2 by hand for b = 0.1, Q = 0.02: 0.002 + 0.000324 - 0.000000648.
    assert beta_pair_unavailability(0.02, 0.1) == pytest.approx(0.002323352, abs=1e-15)
    tree, p = with_common_cause(And((Basic("a"), Basic("b"))), {"a": 0.02, "b": 0.02}, ["a", "b"], 0.1, "both")
    assert probability(tree, p) == pytest.approx(0.002323352, abs=1e-15)


# US EIA, Electric Power Annual, table 11.3, 2023 with and without major events: SAIDI, SAIFI, printed CAIDI.
@pytest.mark.parametrize(
    ("saidi", "saifi", "caidi"),
    [
        (480.5, 1.398, 343.7),  # New England, with
        (107.8, 0.944, 114.2),  # New England, without
        (744.4, 2.352, 316.5),  # Vermont, with
        (1863, 3.314, 562.2),  # Maine, with
        (108.3, 0.881, 123),  # New Jersey, with
        (1093.6, 1.512, 723.5),  # Michigan, with
    ],
)
def test_mean_outage_of_published_networks(saidi, saifi, caidi):
    # SAIFI is printed to three places, SAIDI and CAIDI to one.
    rounding = 0.05 + (0.05 + caidi * 0.0005) / saifi
    assert mean_outage_min(saidi, saifi) == pytest.approx(caidi, abs=rounding)


def test_share_of_the_year_without_mains():
    # By hand: 470 / 525 600 and 92 / 525 600.
    assert mains_unavailability(470) == pytest.approx(8.94e-4, abs=5e-7)
    assert mains_unavailability(92) == pytest.approx(1.75e-4, abs=5e-7)


def test_a_battery_that_holds_for_one_mean_outage_leaves_one_part_in_e():
    # Exponential outages: the share beyond their own mean is 1/e (no published figure; the definition).
    assert mains_unavailability_beyond(480.5, 1.398, 480.5 / 1.398) == pytest.approx(
        480.5 / 525_600 / math.e, rel=1e-12, abs=0
    )
