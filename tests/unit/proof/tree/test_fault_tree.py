"""Nodes, diagrams and cut sets where the laws do not look: refusals, depth, order, size."""

import pytest

from stillwell.problem import Refusal
from stillwell.proof.tree.bdd import diagram, good_order, probability
from stillwell.proof.tree.cuts import cut_family, cut_sets, minimal_cut_sets, number_of_sets
from stillwell.proof.tree.importance import importances
from stillwell.proof.tree.tree import And, AtLeast, Basic, Not, Or, bottom_up, events

pytestmark = pytest.mark.base

A, B, C = Basic("A"), Basic("B"), Basic("C")


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: Basic(""), "a basic event is called ''"),
        (lambda: Basic(" "), "a basic event is called ' '"),
        (lambda: Basic(7), "a basic event is called 7"),
        (lambda: And(()), "an and gate has no children"),
        (lambda: Or(()), "an or gate has no children"),
        (lambda: Or(("A",)), "an or gate has 'A' among its children"),
        (lambda: And(A), "an and gate got a Basic for its children"),
        (lambda: Not("A"), "a not gate has 'A' among its children"),
        (lambda: AtLeast(0, (A, B)), "at least 0 of 2 children"),
        (lambda: AtLeast(3, (A, B)), "at least 3 of 2 children"),
        (lambda: AtLeast(True, (A, B)), "at least True of 2 children"),
        (lambda: AtLeast(1.5, (A, B)), "at least 1.5 of 2 children"),
        (lambda: AtLeast(1, ()), "an at-least gate has no children"),
    ],
)
def test_a_node_that_makes_no_sense_is_refused(make, message):
    with pytest.raises(Refusal, match=message):
        make()


def test_a_list_of_children_is_as_good_as_a_tuple():
    assert And([A, B]) == And((A, B))


def test_events_come_once_as_first_seen():
    assert events(Or((B, And((A, B)), C))) == ("B", "A", "C")


def test_a_shared_node_is_walked_once():
    # Each level holds the one below twice: 2^60 paths, 61 nodes.
    node = A
    for _ in range(60):
        node = And((node, node))
    assert len(bottom_up(node)) == 61
    assert probability(node, {"A": 0.25}) == 0.25


def test_depth_is_no_limit():
    deep = Basic("e0")
    for n in range(1, 3000):
        deep = (And if n % 2 else Or)((Basic(f"e{n}"), deep))
    p = dict.fromkeys(events(deep), 0.5)
    read = diagram(deep)
    assert len(read.graph) == 3002
    # Unrolled by hand from the innermost gate outwards.
    expected = 0.5
    for n in range(1, 3000):
        expected = 0.5 * expected if n % 2 else 0.5 + 0.5 * expected
    assert probability(read, p) == pytest.approx(expected, rel=1e-12, abs=0)
    assert number_of_sets(cut_family(read)) == 1500


def test_a_vote_of_many_stays_small():
    # 25 of 50 has C(50, 25) = 126 410 606 437 752 minimal cut sets and a diagram of 25 * 26 nodes.
    votes = AtLeast(25, tuple(Basic(f"v{n}") for n in range(50)))
    read = diagram(votes)
    assert len(read.graph) == 25 * 26 + 2
    assert number_of_sets(cut_family(read)) == 126_410_606_437_752


def test_small_chances_keep_their_digits():
    # Two independent parts of 1e-12 each: 1e-24, and 2e-12 - 1e-24 for either.
    tiny = {"A": 1e-12, "B": 1e-12}
    assert probability(And((A, B)), tiny) == pytest.approx(1e-24, rel=1e-15, abs=0)
    assert probability(Or((A, B)), tiny) == pytest.approx(2e-12 - 1e-24, rel=1e-15, abs=0)
    # Without A the pair is all there is, 1e-24: taking it from the total would leave noise.
    found = importances(Or((A, And((B, C)))), {"A": 0.5, "B": 1e-12, "C": 1e-12})["A"]
    assert found.if_working == pytest.approx(1e-24, rel=1e-12, abs=0)


def test_missing_and_impossible_chances_are_all_told_at_once():
    with pytest.raises(Refusal) as caught:
        probability(And((A, Or((B, C)))), {"A": 1.5, "B": float("nan")})
    told = {problem.place.name: problem.what for problem in caught.value.problems}
    assert told == {
        "A": "the chance 1.5 is no chance",
        "B": "the chance nan is no chance",
        "C": "no chance is given for the event 'C'",
    }


def test_chances_of_strangers_do_no_harm_but_given_strangers_are_refused():
    assert probability(A, {"A": 0.5, "Z": 7}) == 0.5
    with pytest.raises(Refusal, match="the tree has no event 'Z'"):
        probability(A, {"A": 0.5}, {"Z": True})


@pytest.mark.parametrize("order", [("A",), ("A", "B", "B"), ("A", "B", "Z")])
def test_an_order_that_does_not_fit_is_refused(order):
    with pytest.raises(Refusal, match="does not fit the tree"):
        diagram(And((A, B)), order)


def test_the_smaller_branch_is_asked_first():
    assert good_order(Or((And((A, B)), C))) == ("C", "A", "B")


def test_a_least_chance_needs_chances():
    with pytest.raises(Refusal, match="a least chance is asked for without the chances"):
        cut_sets(A, least_chance=0.1)


def test_the_refusal_of_cut_sets_says_what_to_do():
    with pytest.raises(Refusal) as caught:
        minimal_cut_sets(And((A, Not(B))))
    (problem,) = caught.value.problems
    assert problem.place.name == "B"
    assert "probability only" in problem.remedy


def test_an_event_that_cannot_matter_has_no_importance():
    found = importances(Or((A, And((A, B)))), {"A": 0.25, "B": 0.5})["B"]
    assert (found.birnbaum, found.criticality, found.fussell_vesely, found.cut_sets) == (0, 0, 0, 0)
    assert (found.achievement, found.reduction) == (1, 1)
