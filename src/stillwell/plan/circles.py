"""Small directed graphs of names: an order in which each comes after what it needs, and the circles that forbid one.

A graph maps each node to the nodes it leads to; nodes it leads to and does not list lead nowhere.
"""

from collections import deque
from collections.abc import Collection, Hashable, Mapping
from graphlib import CycleError, TopologicalSorter
from typing import TypeVar

Node = TypeVar("Node", bound=Hashable)


def in_order(needs: Mapping[Node, Collection[Node]]) -> tuple[Node, ...]:
    """Return the nodes, each after all that it needs, where possible; those in or behind a circle are left out."""
    graph = {node: [other for other in others if other in needs] for node, others in needs.items()}
    while True:
        sorter = TopologicalSorter(graph)
        try:
            return tuple(sorter.static_order())
        except CycleError as error:
            lost = set(error.args[1])
            while True:
                behind = {node for node in graph if node not in lost and lost & set(graph[node])}
                if not behind:
                    break
                lost |= behind
            graph = {node: others for node, others in graph.items() if node not in lost}


def circles(graph: Mapping[Node, Collection[Node]]) -> tuple[tuple[Node, ...], ...]:
    """Return circles such that every node of the graph that lies on any circle lies on one of them.

    Each is a shortest one through its first node, and the first node is not repeated at its end. The order
    follows that of the graph.
    """
    found: list[tuple[Node, ...]] = []
    seen: set[Node] = set()
    for node in graph:
        if node not in seen:
            circle = _shortest_circle(graph, node)
            if circle:
                found.append(circle)
                seen.update(circle)
    return tuple(found)


def _shortest_circle(graph: Mapping[Node, Collection[Node]], start: Node) -> tuple[Node, ...]:
    came_from: dict[Node, Node] = {}
    waiting = deque([start])
    while waiting:
        node = waiting.popleft()
        for other in graph.get(node, ()):
            if other == start:
                return _way_back(came_from, node)
            if other not in came_from:
                came_from[other] = node
                waiting.append(other)
    return ()


def _way_back(came_from: Mapping[Node, Node], last: Node) -> tuple[Node, ...]:
    way = [last]
    while way[-1] in came_from:
        way.append(came_from[way[-1]])
    return tuple(way[::-1])
