"""Rates: digits kept for small rates and large, and what is refused."""

from fractions import Fraction
from math import comb, exp, factorial

import pytest

from stillwell.problem import Refusal
from stillwell.proof.tree.bdd import probability
from stillwell.proof.tree.common_cause import with_common_cause
from stillwell.proof.tree.rates import (
    availability,
    beta_split,
    mains_unavailability,
    mains_unavailability_beyond,
    mean_outage_min,
    pair_unavailability_between_tests,
    steady_unavailability,
    unavailability_between_tests,
)
from stillwell.proof.tree.tree import And, AtLeast, Basic, Not, Or

pytestmark = pytest.mark.base


def mean_by_series(x):
    """Return 1 - (1 - e^-x) / x from its power series in fractions: no digit lost at any size."""
    x = Fraction(x)
    return float(sum((-1) ** (n + 1) * x**n / factorial(n + 1) for n in range(1, 90)))


def pair_by_series(x, y):
    """Return the mean of (1 - e^-xt)(1 - e^-yt) over t in 0..1, likewise."""
    x, y = Fraction(x), Fraction(y)
    terms = (
        (-1) ** n * sum(comb(n, k) * x**k * y ** (n - k) for k in range(1, n)) / factorial(n + 1) for n in range(2, 90)
    )
    return float(sum(terms))


@pytest.mark.parametrize("x", [1e-12, 1e-6, 0.01, 0.4999, 0.5, 0.5001, 1, 5, 12])
def test_between_tests_keeps_its_digits(x):
    assert unavailability_between_tests(x / 8, 8) == pytest.approx(mean_by_series(x), rel=1e-14, abs=0)


@pytest.mark.parametrize(("x", "y"), [(1e-9, 1e-9), (1e-3, 0.2), (0.25, 0.2499), (0.25, 0.25), (1, 0.1), (4, 5)])
def test_a_pair_between_tests_keeps_its_digits(x, y):
    assert pair_unavailability_between_tests(x, y, 1) == pytest.approx(pair_by_series(x, y), rel=1e-12, abs=0)


def test_between_tests_at_the_ends():
    assert unavailability_between_tests(0, 8760) == 0
    assert unavailability_between_tests(1, 0) == 0
    assert unavailability_between_tests(1, 1e9) == pytest.approx(1, abs=2e-9)
    assert pair_unavailability_between_tests(0, 1e-3, 100) == 0


def test_a_pair_is_worse_than_the_product_of_its_means():
    both = pair_unavailability_between_tests(1e-5, 1e-5, 8760)
    assert both > 1.3 * unavailability_between_tests(1e-5, 8760) ** 2


def test_a_repaired_part_is_a_chain_of_two_states():
    # In the long run as many leave "works" as come back: up * rate = down / repair time.
    down = steady_unavailability(0.01, 24)
    assert (1 - down) * 0.01 == pytest.approx(down / 24, rel=1e-15, abs=0)


def test_a_battery_without_any_hold_up_changes_nothing():
    assert mains_unavailability_beyond(480.5, 1.398, 0) == mains_unavailability(480.5)
    assert mains_unavailability_beyond(480.5, 1.398, 720) == pytest.approx(
        480.5 / 525_600 * exp(-720 * 1.398 / 480.5), rel=1e-12, abs=0
    )
    assert mains_unavailability_beyond(0, 0, 60) == 0


@pytest.mark.parametrize(
    "ask",
    [
        lambda: steady_unavailability(-1, 1),
        lambda: steady_unavailability(float("nan"), 1),
        lambda: unavailability_between_tests(1, float("inf")),
        lambda: availability(0, 8),
        lambda: beta_split(0.1, 1.1),
        lambda: beta_split(-0.1, 0.5),
        lambda: mains_unavailability(525_601),
        lambda: mean_outage_min(10, 0),
    ],
)
def test_numbers_that_cannot_be_are_refused(ask):
    with pytest.raises(Refusal):
        ask()


A, B, C, D = Basic("A"), Basic("B"), Basic("C"), Basic("D")
P = {"A": 0.1, "B": 0.2, "C": 0.3, "D": 0.4}


def test_a_shared_cause_strikes_through_every_gate():
    tree = AtLeast(2, (And((A, C)), Or((B, D)), Not(A)))
    changed, p = with_common_cause(tree, P, ["A", "B"], 0.5, "damp")
    # The smaller chance, A's 0.1, gives 0.05 to the cause; each keeps the rest for itself.
    assert p == {"A": pytest.approx(0.05), "B": pytest.approx(0.15), "C": 0.3, "D": 0.4, "damp": 0.05}
    struck = probability(tree, {**P, "A": 1, "B": 1})
    spared = probability(tree, {**P, "A": 0.05, "B": 0.15})
    assert probability(changed, p) == pytest.approx(0.05 * struck + 0.95 * spared, rel=1e-14, abs=0)


def test_beta_nought_changes_nothing():
    tree = Or((A, And((B, C))))
    changed, p = with_common_cause(tree, P, ["A", "B"], 0, "damp")
    assert probability(changed, p) == pytest.approx(probability(tree, P), rel=1e-15, abs=0)


@pytest.mark.parametrize(
    ("members", "cause", "message"),
    [
        (["A", "Z"], "damp", "no event 'Z'"),
        (["A", "B"], "C", "already has an event 'C'"),
        (["A", "A"], "damp", "needs two parts or more"),
    ],
)
def test_a_shared_cause_that_does_not_fit_is_refused(members, cause, message):
    with pytest.raises(Refusal, match=message):
        with_common_cause(Or((A, B, C)), P, members, 0.1, cause)
