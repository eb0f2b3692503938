"""Small fault trees with published answers: test inputs and OpenFTA reports of scram (rakhimov/scram).

Taken from its tests/risk_analysis_tests.cc, bench_core_tests.cc, bench_two_train_tests.cc,
bench_theatre_tests.cc and bench_small_tree_tests.cc; only the published numbers and the structure, written
anew. Tolerance = the digits printed.
"""

import math

import pytest

from stillwell.problem import Refusal
from stillwell.proof.tree.bdd import probability
from stillwell.proof.tree.common_cause import with_common_cause
from stillwell.proof.tree.cuts import (
    cut_family,
    cut_sets,
    min_cut_upper_bound,
    minimal_cut_sets,
    number_of_sets,
    rare_event_sum,
)
from stillwell.proof.tree.importance import importances, rare_event_importances
from stillwell.proof.tree.rates import failed_by
from stillwell.proof.tree.tree import And, AtLeast, Basic, Not, Or

pytestmark = pytest.mark.base

A, B, C = Basic("A"), Basic("B"), Basic("C")
ABC = {"A": 0.1, "B": 0.2, "C": 0.3}
PUMP_1, PUMP_2, VALVE_1, VALVE_2 = Basic("P1"), Basic("P2"), Basic("V1"), Basic("V2")
TWO_TRAINS = And((Or((PUMP_1, VALVE_1)), Or((PUMP_2, VALVE_2))))
LIKELY = {"P1": 0.6, "P2": 0.7, "V1": 0.4, "V2": 0.5}
RARE = {"P1": 0.06, "P2": 0.07, "V1": 0.04, "V2": 0.05}
# Half a unit of the last digit printed for the shares (four places; one entry of a published column ends in a 5) and
# for the ratios (three places).
SHARE, RATIO = 5.1e-5, 5.1e-4
THEATRE = And((Basic("mains"), Or((Basic("generator"), Basic("relay")))))


def measures(found):
    """Return the five measures in the order in which they are published."""
    return found.birnbaum, found.criticality, found.diagnostic, found.achievement, found.reduction


@pytest.mark.parametrize(
    ("tree", "p", "exact", "rare_event", "sets"),
    [
        (Or((A, B, C)), ABC, 0.496, 0.6, 3),
        (Or((And((A, B)), And((B, C)))), ABC, 0.074, 0.08, 2),
        (AtLeast(2, (A, B, C)), ABC, 0.098, 0.11, 3),
        (AtLeast(2, (A, B, C)), {"A": 0.1, "B": 0.1, "C": 0.1}, 0.028, 0.03, 3),
        (THEATRE, {"mains": 0.03, "generator": 0.02, "relay": 0.05}, 0.00207, 0.00210, 2),
        (TWO_TRAINS, LIKELY, 0.646, 1.2, 4),
        (TWO_TRAINS, RARE, 0.01137, 0.012, 4),
    ],
)
def test_exact_rare_event_and_number_of_cut_sets(tree, p, exact, rare_event, sets):
    family = cut_family(tree)
    # Inputs have few digits, so the printed answers are exact; the last one is printed to five places.
    assert probability(tree, p) == pytest.approx(exact, abs=5e-6 if p is RARE else 1e-15)
    assert rare_event_sum(family, p) == pytest.approx(rare_event, abs=1e-15)
    assert number_of_sets(family) == len(minimal_cut_sets(tree)) == sets


@pytest.mark.parametrize(
    ("tree", "exact"),
    [
        (And((A, Not(B))), 0.08),
        (Or((A, Not(B))), 0.82),
        (Or((And((A, B)), And((Not(A), C)))), 0.29),
        (Or((A, Not(A))), 1.0),
        (And((A, Not(A))), 0.0),
    ],
)
def test_exact_with_not_gates(tree, exact):
    assert probability(tree, ABC) == pytest.approx(exact, abs=1e-15)


def test_exclusive_or_of_three():
    # A xor B xor C at .1 .2 .3.
    one = Or((And((A, Not(B))), And((Not(A), B))))
    tree = Or((And((one, Not(C))), And((Not(one), C))))
    assert probability(tree, ABC) == pytest.approx(0.404, abs=1e-15)


@pytest.mark.parametrize(
    ("tree", "event"),
    [(And((A, Not(B))), "B"), (Or((A, Not(B))), "B"), (Or((And((A, B)), And((Not(A), C)))), "A")],
)
def test_no_cut_sets_where_a_failure_can_undo_the_top_event(tree, event):
    with pytest.raises(Refusal, match=f"when '{event}' happens, the top event can go away"):
        cut_family(tree)


def test_a_not_gate_that_does_no_harm_leaves_the_tree_coherent():
    # "A or (not A and B)" has the minimal cut sets {A} and {B} and, at .1 and .2, the chance 0.28.
    tree = Or((A, And((Not(A), B))))
    assert minimal_cut_sets(tree) == (frozenset({"A"}), frozenset({"B"}))
    assert probability(tree, ABC) == pytest.approx(0.28, abs=1e-15)


def test_always_and_never():
    # Published as one empty cut set, and as none.
    assert minimal_cut_sets(Or((A, Not(A)))) == (frozenset(),)
    assert minimal_cut_sets(And((A, Not(A)))) == ()


def test_two_trains_bound_and_cut_sets():
    assert min_cut_upper_bound(cut_family(TWO_TRAINS), LIKELY) == pytest.approx(0.766144, abs=1e-12)
    assert cut_sets(TWO_TRAINS, p=LIKELY).sets == (
        frozenset({"P1", "P2"}),  # 0.42
        frozenset({"P1", "V2"}),  # 0.30
        frozenset({"P2", "V1"}),  # 0.28
        frozenset({"V1", "V2"}),  # 0.20
    )


@pytest.mark.parametrize(
    ("event", "expected"),
    [
        ("P1", (0.51, 0.4737, 0.7895, 1.316, 1.9)),
        ("P2", (0.38, 0.4118, 0.8235, 1.176, 1.7)),
        ("V1", (0.34, 0.2105, 0.5263, 1.316, 1.267)),
        ("V2", (0.228, 0.1765, 0.5882, 1.176, 1.214)),
    ],
)
def test_two_trains_importances(event, expected):
    found = importances(TWO_TRAINS, LIKELY)[event]
    assert measures(found)[:3] == pytest.approx(expected[:3], abs=SHARE)
    assert measures(found)[3:] == pytest.approx(expected[3:], abs=RATIO)
    assert found.cut_sets == 2


@pytest.mark.parametrize(
    ("event", "expected"),
    [
        ("P1", (0.12, 0.6, 0.624, 10.4, 2.5)),
        ("P2", (0.1, 0.5833, 0.6125, 8.75, 2.4)),
        ("V1", (0.12, 0.4, 0.424, 10.6, 1.667)),
        ("V2", (0.1, 0.4167, 0.4458, 8.917, 1.714)),
    ],
)
def test_two_trains_importances_by_rare_events(event, expected):
    found = rare_event_importances(TWO_TRAINS, RARE)[event]
    assert measures(found)[:3] == pytest.approx(expected[:3], abs=SHARE)
    assert measures(found)[3:] == pytest.approx(expected[3:], abs=RATIO)
    assert found.cut_sets == 2


@pytest.mark.parametrize(
    ("event", "expected"),
    [
        ("P1", (0.0765, 0.1029, 0.1568, 2.613, 1.115)),
        ("P2", (0.057, 0.08948, 0.1532, 2.189, 1.098)),
        ("V1", (0.94, 0.8432, 0.8495, 21.237, 6.379)),
        ("V2", (0.0558, 0.06257, 0.1094, 2.189, 1.067)),
    ],
)
def test_importances_of_a_tree_that_is_not_coherent(event, expected):
    # Published with the prime implicants {not P1, V1} {P1, P2} {P1, V2} {P2, V1} {V1, V2}; top event 0.04459.
    tree = Or((And((PUMP_1, Or((PUMP_2, VALVE_2)))), And((Not(PUMP_1), VALVE_1))))
    found = importances(tree, RARE)[event]
    assert probability(tree, RARE) == pytest.approx(0.04459, abs=1e-12)
    assert measures(found)[:3] == pytest.approx(expected[:3], abs=SHARE)
    # One of these is printed cut off, not rounded: 21.237 for 21.2377.
    assert measures(found)[3:] == pytest.approx(expected[3:], abs=2 * RATIO)
    assert found.cut_sets is None
    assert found.fussell_vesely is None


@pytest.mark.parametrize(
    ("p", "expected"),
    [(0.5, (1, 1, 1, 2, 0)), (1, (1, 1, 1, 1, 0)), (0, (1, 0, 0, 0, 0))],
)
def test_a_single_event_likely_certain_and_impossible(p, expected):
    # Published for OnlyChild and for A in one_prob and zero_prob, ratios without a divisor being 0.
    found = importances(Basic("A"), {"A": p})["A"]
    assert found.cut_sets == 1
    assert measures(found) == expected


def test_theatre_with_the_generators_figure_read_as_a_probability():
    p = {"mains": 0.03, "generator": 0.02, "relay": 0.05}
    assert probability(THEATRE, p) == pytest.approx(2.07e-3, abs=1e-15)


def test_theatre_with_the_generators_figure_read_as_a_rate():
    # OpenFTA's own report reads 0.02 as a rate: 1 - exp(-0.02).
    p = {"mains": 0.03, "generator": failed_by(0.02, 1), "relay": 0.05}
    family = cut_family(THEATRE)
    assert cut_sets(family, p=p).sets == (frozenset({"mains", "relay"}), frozenset({"generator", "mains"}))
    assert p["mains"] * p["generator"] == pytest.approx(5.940398e-4, abs=5e-11)
    assert p["mains"] * p["relay"] == pytest.approx(1.5e-3, abs=5e-10)
    assert rare_event_sum(family, p) == pytest.approx(2.094040e-3, abs=5e-10)
    assert probability(THEATRE, p) == pytest.approx(2.064338e-3, abs=5e-10)


def test_small_tree_over_a_year():
    tree = Or((And((Basic("e1"), Basic("e2"))), And((Basic("e3"), Basic("e4")))))
    p = {"e1": failed_by(2e-5, 8760), "e2": failed_by(1e-5, 8760)}
    p |= {"e3": p["e1"], "e4": p["e2"]}
    assert p["e1"] == pytest.approx(0.16071, abs=5e-6)
    assert p["e2"] == pytest.approx(0.08387, abs=5e-6)
    assert probability(tree, p) == pytest.approx(0.02678, abs=5e-6)
    assert rare_event_sum(cut_family(tree), p) == pytest.approx(0.02696, abs=5e-6)
    assert set(minimal_cut_sets(tree)) == {frozenset({"e1", "e2"}), frozenset({"e3", "e4"})}


def test_three_trains_with_common_causes():
    # Beta factor 0.2 on three pumps and on three valves, each 0.1: published 0.04308 and ten cut sets.
    pumps, valves = [f"pump {n}" for n in (1, 2, 3)], [f"valve {n}" for n in (1, 2, 3)]
    trains = tuple(Or((Basic(valve), Basic(pump))) for pump, valve in zip(pumps, valves, strict=True))
    tree, p = And(trains), dict.fromkeys((*pumps, *valves), 0.1)
    tree, p = with_common_cause(tree, p, pumps, 0.2, "all pumps")
    tree, p = with_common_cause(tree, p, valves, 0.2, "all valves")
    assert probability(tree, p) == pytest.approx(0.04308, abs=1e-5)
    sets = minimal_cut_sets(tree)
    assert {frozenset({"all pumps"}), frozenset({"all valves"})} <= set(sets)
    assert len(sets) == 10
    assert math.isclose(p["pump 1"], 0.08)
    assert math.isclose(p["all pumps"], 0.02)
