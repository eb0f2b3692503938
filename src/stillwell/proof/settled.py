"""Where the corners of the past may not be enough: timers of the past that still decide something later on.

A timer that ran before the onset ends at some instant within its duration. It is put through both ends of that
stretch. That is enough where sooner and later are only better and worse, and where it has ended before anything is
decided. Else an instant in between may be worse than both ends, and the proof must say so.
"""

from collections.abc import Set as AbstractSet

from stillwell.engine.lanes import depth
from stillwell.engine.operators import compare, count, edge, follow, held, limits, logic, reported, silence
from stillwell.proof.world import ASK_AGAIN_MS, Stage

_SILENCES = (silence.Silence, limits.Limits)
_LEVELS = (*_SILENCES, count.Count, held.Held)
_MONOTONE = (logic.AllOf, logic.AnyOf, logic.Negation, logic.PulseWhile, logic.AnyPulse)


def unsettled(stage: Stage, free: AbstractSet[str], soonest_ms: int) -> tuple[str, ...]:
    """Return the rules, by name, whose timers of the past may end, unseen by any corner, after ``soonest_ms``.

    ``free`` are the signals whose past is open: those the resident gives and the hazard does not fix. ``soonest_ms``
    is how long after the last sign of life an alarm is raised at the earliest.
    """
    found = dict[str, None]()
    for node in stage.nodes:
        operator = stage.program.nodes[node].operator
        if isinstance(operator, _SILENCES) and (isinstance(operator, limits.Limits) or _as_a_whole(stage, node)):
            if _later_is_worse(stage, node) and not (_remembers(stage, node, free) or _may_have_stood(stage, node)):
                continue
        elif not _remembers(stage, node, free) or _only_better_or_worse(stage, node):
            continue
        for rule in _rules_above(stage, node):
            if depth(stage.program, rule) > soonest_ms or _may_have_stood(stage, node):
                operator = stage.program.nodes[rule].operator
                assert isinstance(operator, edge.Fire)
                found[operator.rule] = None
    return tuple(found)


def _remembers(stage: Stage, node: int, free: AbstractSet[str]) -> bool:
    """Tell whether a node is a timer that reports of the past, whose time is open, may have started."""
    operator = stage.program.nodes[node].operator
    if not isinstance(operator, (*_LEVELS, follow.Then, follow.Without)) or node in stage.clockwork:
        return False
    below = stage.program.cone([node], stage.tails | stage.free)
    heard = (stage.program.nodes[one].operator for one in below if one not in stage.tails)
    by_itself = any(
        isinstance(one, reported.PulseReport | reported.LevelReport | reported.NumberReport) and one.signal in free
        for one in heard
    )
    whole = not isinstance(operator, _SILENCES) and any(one in stage.tails for one in below)
    return by_itself or whole


def _as_a_whole(stage: Stage, node: int) -> bool:
    """Tell whether a silence hears signs of life as a whole: the last one may be of any age for each such sum."""
    return not stage.tails.isdisjoint(stage.program.nodes[node].children)


def _may_have_stood(stage: Stage, node: int) -> bool:
    """Tell whether an alarm that stood for one sum of signs only may ask again later than it would be raised anew."""
    operator = stage.program.nodes[node].operator
    if not isinstance(operator, silence.Silence) or operator.duration_ms >= ASK_AGAIN_MS:
        return False
    return _as_a_whole(stage, node) and len(stage.tails.intersection(stage.nodes)) > 1


def _only_better_or_worse(stage: Stage, node: int) -> bool:
    """Tell whether a timer reaches the alarms only through what keeps or turns around sooner and later, one way."""
    if not isinstance(stage.program.nodes[node].operator, _LEVELS) or _gated(stage, node):
        return False
    return len(set[bool]().union(*_ways_up(stage, node))) < 2


def _later_is_worse(stage: Stage, node: int) -> bool:
    """Tell whether an alarm is raised the later, the later a limit falls due: then the latest last sign is worst."""
    return all(not any(ways) for ways in _ways_up(stage, node))


def _ways_up(stage: Stage, node: int) -> list[set[bool]]:
    """Return for each target whether it hears a level as it is, turned around, or both; both where one cannot tell."""
    turned: dict[int, set[bool]] = {node: {False}}
    for above in stage.nodes:
        operator = stage.program.nodes[above].operator
        ways = set[bool]().union(*(turned.get(child, set()) for child in stage.program.nodes[above].children))
        if not ways or above == node:
            continue
        if isinstance(operator, edge.Fire) and above in stage.targets:
            continue
        if not isinstance(operator, (*_MONOTONE, compare.Compare)):
            return [{False, True}]
        turned[above] = {not way for way in ways} if isinstance(operator, logic.Negation) else ways
    return [turned.get(target, set()) for target in stage.targets]


def _gated(stage: Stage, node: int) -> bool:
    """Tell whether a timer hears pulses only while something else holds: the last one heard may be of any age then."""
    below = stage.program.cone([node], stage.tails | stage.free)
    gates = (one for one in below if one not in stage.tails)
    return any(isinstance(stage.program.nodes[one].operator, logic.PulseWhile) for one in gates)


def _rules_above(stage: Stage, node: int) -> list[int]:
    """Return the moments of the rules that a node has a part in, the nearest on each way up."""
    reached, found = {node}, []
    for above in stage.nodes:
        if above not in reached and reached.intersection(stage.program.nodes[above].children):
            if isinstance(stage.program.nodes[above].operator, edge.Fire):
                found.append(above)
            else:
                reached.add(above)
    return found
