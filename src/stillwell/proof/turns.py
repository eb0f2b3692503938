"""Which way a report turns an alarm: whether more of them can only make it come sooner, or only later."""

from collections.abc import Collection, Iterator

from stillwell.engine.operators import count, edge, follow, held, limits, logic, silence
from stillwell.proof.last_signs import parts_of
from stillwell.proof.world import Stage

NEITHER = frozenset({False, True})
"""Sooner here and later there, or through something that remembers an order: a state, the start of something."""

_KEEP = (
    logic.AllOf,
    logic.AnyOf,
    logic.AnyPulse,
    logic.PulseWhile,
    count.Count,
    held.Held,
    follow.Then,
)


def turns(stage: Stage, node: int) -> frozenset[bool]:
    """Return how reports that a node gives, or a longer time for which it is true, turn the alarms of a stage.

    False: with more of them an alarm's condition only becomes more true, True: only less, both: one cannot tell.
    """
    ways: dict[int, frozenset[bool]] = {node: frozenset({False})}
    found = frozenset[bool]()
    for above in stage.nodes:
        if above == node:
            continue
        heard = [
            (place, ways[child]) for place, child in enumerate(stage.program.nodes[above].children) if child in ways
        ]
        if not heard:
            continue
        operator = stage.program.nodes[above].operator
        if isinstance(operator, edge.Fire) and above in stage.targets:
            found |= frozenset[bool]().union(*(way for _, way in heard))
            continue
        if isinstance(operator, edge.Edge) and stage.program.nodes[above].children == (node,):
            ways[above] = ways[node]  # the more often a report turns, the more often it begins and ends
            continue
        ways[above] = frozenset(turned for place, way in heard for turned in _through(operator, place, way))
    return found.union(*(ways.get(target, frozenset()) for target in stage.targets))


def wavering(stage: Stage, heard: Collection[str]) -> frozenset[str]:
    """Return the parts of which neither none nor as many reports as can be need be the worst.

    ``heard`` are the signals that a rule reads by itself. Of signs of life as a whole a later one must be worse. Where
    more of what is let through only while something else holds makes it later, the last let through may be any.
    """
    found = set[str]()
    for node in stage.nodes:
        if node in stage.tails:
            if turns(stage, node) - {True}:
                found |= parts_of(stage.program, node)
        elif (name := getattr(stage.program.nodes[node].operator, "signal", "")) in heard:
            ways = turns(stage, node)
            if len(ways) > 1 or (True in ways and (_let_through(stage, node) or _read_twice(stage, node))):
                found.add(name.partition(".")[0])
    return frozenset(found)


def _read_twice(stage: Stage, node: int) -> bool:
    """Tell whether more than one is read of a level: what it is, when it begins, when it ends."""
    readers = [stage.program.nodes[above] for above in stage.nodes if node in stage.program.nodes[above].children]
    return len({reader.operator if isinstance(reader.operator, edge.Edge) else None for reader in readers}) > 1


def _let_through(stage: Stage, node: int) -> bool:
    """Tell whether reports that a node gives are let through only while something else holds."""
    reached = {node}
    for above in stage.nodes:
        operator, children = stage.program.nodes[above].operator, stage.program.nodes[above].children
        if isinstance(operator, logic.PulseWhile) and reached.intersection(children[: operator.pulses]):
            return True
        if isinstance(operator, logic.AnyPulse | edge.Edge) and reached.intersection(children):
            reached.add(above)
    return False


def _through(operator: object, place: int, ways: frozenset[bool]) -> Iterator[bool]:
    match operator:
        case logic.Negation() | silence.Silence():
            yield from (not way for way in ways)
        case limits.Limits() if place < operator.sorts:
            yield from (not way for way in ways)
        case follow.Without() if place == 1:
            yield from (not way for way in ways)
        case _ if isinstance(operator, (*_KEEP, follow.Without)):
            yield from ways
        case _:
            yield from NEITHER
