"""Orders and circles of small graphs, against the plain definition by reachability."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stillwell.plan.circles import circles, in_order

pytestmark = pytest.mark.base

NODES = "abcdefg"
graphs = st.fixed_dictionaries({node: st.lists(st.sampled_from(NODES), max_size=3, unique=True) for node in NODES})


def reachable(graph: dict[str, list[str]]) -> dict[str, set[str]]:
    """From each node, what can be reached in one step or more: steps are added until nothing is new."""
    reach = {node: set(others) for node, others in graph.items()}
    for _ in graph:
        reach = {node: others.union(*(reach[other] for other in others)) for node, others in reach.items()}
    return reach


@given(graphs)
def test_circles_are_circles_and_leave_no_node_out(graph):
    found = circles(graph)
    for circle in found:
        assert len(set(circle)) == len(circle)
        for first, second in pairwise((*circle, circle[0])):
            assert second in graph[first]
    assert {node for circle in found for node in circle} == {
        node for node, to in reachable(graph).items() if node in to
    }


@given(graphs)
def test_a_circle_is_the_shortest_through_its_first_node(graph):
    for circle in circles(graph):
        layer = set(graph[circle[0]])
        for _ in range(len(circle) - 1):
            assert circle[0] not in layer
            layer = {other for node in layer for other in graph[node]}
        assert circle[0] in layer


@given(graphs)
def test_the_order_holds_all_that_no_circle_stands_in_the_way_of(graph):
    order = in_order(graph)
    reach = reachable(graph)
    round_and_round = {node for node, others in reach.items() if node in others}
    assert set(order) == {node for node, others in reach.items() if not ({node} | others) & round_and_round}
    assert len(set(order)) == len(order)
    for number, node in enumerate(order):
        assert set(graph[node]) <= set(order[:number])
