"""What binary and zero-suppressed decision diagrams share: nodes on levels, with a low and a high child."""

from collections.abc import Sequence
from dataclasses import dataclass

Weights = Sequence[tuple[float, float]]


@dataclass(frozen=True, slots=True)
class Graph:
    """A decision diagram, ready to be read.

    ``order`` names the event of each level, first tested first. Node 0 is the leaf "no", node 1 the leaf
    "yes", both on the level ``len(order)``; every other node ``i`` asks for the event of ``level[i]`` and
    goes on to ``high[i]`` where it has happened, else to ``low[i]``. Children always have smaller numbers.
    """

    order: tuple[str, ...]
    level: tuple[int, ...]
    low: tuple[int, ...]
    high: tuple[int, ...]
    root: int

    def __len__(self) -> int:
        return len(self.level)


@dataclass(frozen=True, slots=True)
class Flow:
    """What runs through one level: past it, and through its nodes by their low and their high side.

    ``difference`` is high less low, taken node by node, so that it stays exact where both are almost equal.
    """

    past: float
    low: float
    high: float
    difference: float


def freeze(order: tuple[str, ...], nodes: Sequence[tuple[int, int, int]], root: int) -> Graph:
    """Return the part of ``nodes`` (level, low, high) that ``root`` reaches, renumbered in the same order."""
    reached = {0, 1}
    stack = [root]
    while stack:
        node = stack.pop()
        if node not in reached:
            reached.add(node)
            stack.extend(nodes[node][1:])
    kept = sorted(reached)
    new = {old: number for number, old in enumerate(kept)}
    return Graph(
        order,
        tuple(nodes[old][0] for old in kept),
        tuple(new[nodes[old][1]] for old in kept),
        tuple(new[nodes[old][2]] for old in kept),
        new[root],
    )


def values(graph: Graph, weights: Weights) -> list[float]:
    """Return the value of every node: the weighted sum of its low and its high child's.

    ``weights`` holds (low, high) for each level; the leaves are worth 0 and 1. One pass: linear in the
    diagram. With (1 - p, p) this is the Shannon expansion and the value a probability; with (1, p) the sum
    over all sets of a family; with (1, 1) their number. Integers and fractions stay exact.
    """
    found: list[float] = [0, 1]
    for node in range(2, len(graph)):
        low, high = weights[graph.level[node]]
        found.append(low * found[graph.low[node]] + high * found[graph.high[node]])
    return found


def flows(graph: Graph, weights: Weights, value: Sequence[float]) -> list[Flow]:
    """Return for each level what part of the root's value runs past it and what through its two sides.

    With t the (low, high) weights of a level, the root's value is past + t[0] * low + t[1] * high there. Only
    sums and products of the given numbers: nothing cancels. Time: levels times the diagram's width.
    """
    mass: dict[int, float] = {graph.root: 1}
    found = []
    for level, (low_weight, high_weight) in enumerate(weights):
        here = [(node, mass.pop(node)) for node in list(mass) if graph.level[node] == level]
        found.append(
            Flow(
                past=sum(arriving * value[node] for node, arriving in mass.items()),
                low=sum(arriving * value[graph.low[node]] for node, arriving in here),
                high=sum(arriving * value[graph.high[node]] for node, arriving in here),
                difference=sum(
                    arriving * (value[graph.high[node]] - value[graph.low[node]]) for node, arriving in here
                ),
            )
        )
        for node, arriving in here:
            for child, weight in ((graph.low[node], low_weight), (graph.high[node], high_weight)):
                mass[child] = mass.get(child, 0) + arriving * weight
    return found
