"""What every fault tree obeys: diagrams, cut sets and importances against counting all states one by one.

All in fractions, so that equal means equal.
"""

from fractions import Fraction
from itertools import combinations

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from tests.oracle.fault_tree import can_be_undone, counted, happens, smallest_sets, states

from stillwell.problem import Refusal
from stillwell.proof.tree.bdd import conditionals, diagram, probability, undone_by
from stillwell.proof.tree.cuts import (
    cut_family,
    cut_sets,
    min_cut_upper_bound,
    minimal_cut_sets,
    number_of_sets,
    rare_event_sum,
)
from stillwell.proof.tree.importance import importances, rare_event_importances
from stillwell.proof.tree.tree import And, AtLeast, Basic, Not, Or, events

pytestmark = pytest.mark.base

NAMES = "abcdefg"

basics = st.sampled_from(NAMES).map(Basic)


def coherent_gates(nodes):
    several = st.lists(nodes, min_size=1, max_size=4).map(tuple)
    voting = several.flatmap(lambda children: st.builds(AtLeast, st.integers(1, len(children)), st.just(children)))
    return st.one_of(several.map(And), several.map(Or), voting)


coherent_trees = st.recursive(basics, coherent_gates, max_leaves=14)
any_trees = st.recursive(basics, lambda nodes: st.one_of(coherent_gates(nodes), nodes.map(Not)), max_leaves=14)
chances = st.fixed_dictionaries({name: st.integers(0, 9).map(lambda n: Fraction(n, 9)) for name in NAMES})
likely = st.fixed_dictionaries({name: st.integers(1, 8).map(lambda n: Fraction(n, 9)) for name in NAMES})
thorough = settings(max_examples=150, deadline=None)


@thorough
@given(any_trees, chances)
def test_probability_is_the_sum_over_all_states(tree, p):
    assert probability(tree, p) == counted(tree, p, lambda failed: happens(tree, failed))


@thorough
@given(any_trees, chances, st.randoms(use_true_random=False))
def test_the_order_of_events_changes_nothing(tree, p, random):
    order = list(events(tree))
    random.shuffle(order)
    assert probability(diagram(tree, order), p) == probability(tree, p)


@thorough
@given(any_trees, any_trees)
def test_equal_functions_have_equal_diagrams(one, other):
    both, either = And((one, other)), Not(Or((Not(one), Not(other))))
    order = events(both)
    assert diagram(both, order).graph == diagram(either, order).graph


@thorough
@given(any_trees, likely, st.data())
def test_probability_with_events_given(tree, p, data):
    fixed = data.draw(st.dictionaries(st.sampled_from(events(tree)), st.booleans()))

    def fits(failed):
        return all((name in failed) == happened for name, happened in fixed.items())

    both = counted(tree, p, lambda failed: happens(tree, failed) and fits(failed))
    assert probability(tree, p, fixed) == both / counted(tree, p, fits)


@thorough
@given(any_trees, chances)
def test_all_conditionals_at_once_are_the_single_ones(tree, p):
    for name, found in conditionals(tree, p).items():
        assert found.if_failed == probability(tree, p, {name: True})
        assert found.if_working == probability(tree, p, {name: False})
        assert found.birnbaum == found.if_failed - found.if_working


@thorough
@given(any_trees, likely)
def test_birnbaum_is_the_slope(tree, p):
    step = Fraction(1, 9)
    for name, found in importances(tree, p).items():
        above, below = {**p, name: p[name] + step}, {**p, name: p[name] - step}
        assert found.birnbaum == (probability(tree, above) - probability(tree, below)) / (2 * step)


@thorough
@given(any_trees)
def test_coherent_is_said_of_exactly_those_that_no_failure_undoes(tree):
    culprit = undone_by(diagram(tree))
    assert (culprit is not None) == can_be_undone(tree)
    if culprit is not None:
        assert any(happens(tree, failed) and not happens(tree, failed | {culprit}) for failed in states(tree))
        with pytest.raises(Refusal):
            cut_family(tree)


@thorough
@given(any_trees)
def test_cut_sets_are_the_smallest_sets_that_are_enough(tree):
    assume(not can_be_undone(tree))
    found = minimal_cut_sets(tree)
    assert set(found) == smallest_sets(tree)
    assert len(found) == len(set(found)) == number_of_sets(cut_family(tree))


@thorough
@given(coherent_trees, chances)
def test_exact_is_at_most_the_bound_is_at_most_the_sum(tree, p):
    family = cut_family(tree)
    assert probability(tree, p) <= min_cut_upper_bound(family, p) <= rare_event_sum(family, p)


@thorough
@given(coherent_trees, chances)
def test_bounds_are_those_of_the_sets_written_out(tree, p):
    none_fails, total = Fraction(1), Fraction(0)
    for events_of_set in smallest_sets(tree):
        chance = Fraction(1)
        for name in events_of_set:
            chance *= p[name]
        none_fails *= 1 - chance
        total += chance
    family = cut_family(tree)
    assert min_cut_upper_bound(family, p) == 1 - none_fails
    assert rare_event_sum(family, p) == total


@thorough
@given(coherent_trees, likely, st.integers(0, 5), st.integers(0, 9))
def test_limits_leave_out_what_they_say_and_count_it(tree, p, most_events, ninths):
    least = Fraction(ninths, 9)
    everything = cut_sets(tree, p=p)
    limited = cut_sets(tree, most_events=most_events, p=p, least_chance=least)

    def passes(found):
        chance = Fraction(1)
        for name in found:
            chance *= p[name]
        return len(found) <= most_events and chance >= least

    assert everything.left_out == 0
    assert list(limited.sets) == [found for found in everything.sets if passes(found)]
    assert limited.left_out == len(everything.sets) - len(limited.sets)


@thorough
@given(coherent_trees, likely)
def test_fussell_vesely_and_diagnostic_are_shares_of_the_states(tree, p):
    top = probability(tree, p)
    sets = smallest_sets(tree)
    for name, found in importances(tree, p).items():
        holding = [one for one in sets if name in one]
        by_it = counted(tree, p, lambda failed, holding=holding: any(one <= failed for one in holding))
        with_it = counted(tree, p, lambda failed, name=name: name in failed and happens(tree, failed))
        assert found.fussell_vesely == by_it / top
        assert found.diagnostic == with_it / top
        assert found.cut_sets == len(holding)
        assert found.criticality <= found.fussell_vesely <= found.diagnostic


@thorough
@given(coherent_trees, likely)
def test_rare_event_birnbaum_is_the_slope_of_the_sum(tree, p):
    family, step = cut_family(tree), Fraction(1, 9)
    for name, found in rare_event_importances(tree, p).items():
        above, below = {**p, name: p[name] + step}, {**p, name: p[name] - step}
        assert found.birnbaum == (rare_event_sum(family, above) - rare_event_sum(family, below)) / (2 * step)
        assert found.if_failed == rare_event_sum(family, {**p, name: Fraction(1)})
        assert found.if_working == rare_event_sum(family, {**p, name: Fraction(0)})


@thorough
@given(st.integers(1, 9), st.data(), chances)
def test_at_least_is_any_of_the_sets_of_that_size(size, data, p):
    children = tuple(data.draw(st.lists(coherent_trees, min_size=size, max_size=size)))[:5]
    k = data.draw(st.integers(1, len(children)))
    spelt_out = Or(tuple(And(some) for some in combinations(children, k)))
    assert probability(AtLeast(k, children), p) == probability(spelt_out, p)
