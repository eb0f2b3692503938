"""Where the order of events can change: the critical onsets.

After the onset everything that happens, happens at onset + a sum of the plan's durations, or at an edge of the
calendar + such a sum. The order of two such times can only change where they meet, so every critical onset is an
edge + one sum - another. Both families of sums are gathered by walking up the rules' graph.
"""

from collections.abc import Sequence

import numpy as np

from stillwell.civiltime import SunTime
from stillwell.engine.columns import Columns
from stillwell.engine.operators import calendar, count, follow, held, limits, lost, reported, settings, silence
from stillwell.engine.program import Program
from stillwell.problem import refuse
from stillwell.proof.last_signs import Choices, Last
from stillwell.proof.world import ASK_AGAIN_MS, Stage, World
from stillwell.record.columns import Times

MOST_SUMS = 4000


def sums_after_onset(
    stage: Stage, world: World, chosen: Choices | None = None
) -> tuple[dict[int, frozenset[int]], dict[int, frozenset[tuple[int, int]]]]:
    """Return for each node when it may change: sums after the onset, and (node, sum) after instants that are fixed.

    Such a node is clockwork, or hangs on the last sign of life where that is ``chosen`` for each onset.
    """
    slot = world.last.slot if isinstance(world.last, Last) else 0
    program = stage.program
    after: dict[int, frozenset[int]] = {}
    edges: dict[int, frozenset[tuple[int, int]]] = {}
    for node in stage.nodes:
        if node in stage.clockwork:
            after[node], edges[node] = frozenset(), frozenset({(node, 0)})
            continue
        if node in stage.free:
            after[node], edges[node] = frozenset(), frozenset()
            continue
        if node in stage.tails:
            after[node], edges[node] = frozenset(world.life), frozenset()
            if chosen is not None:
                after[node], edges[node] = after[node] | chosen.follows(slot), frozenset({(node, 0)})
            continue
        operator = program.nodes[node].operator
        own = _reported_at(operator, world)
        below = program.nodes[node].children
        asked: Sequence[int] = ()
        if isinstance(operator, limits.Limits):
            below, asked = below[: operator.sorts], below[operator.sorts :]
        sums = frozenset(own).union(*(after[child] for child in below))
        lines = frozenset[tuple[int, int]]().union(*(edges[child] for child in below))
        if isinstance(operator, limits.Limits) and not stage.tails.issuperset(below):
            # signs that are read by themselves: each may have any of the limits
            begun, fixed = sums, lines
            for limit in {operator.longest_ms, *(row.limit_ms for row in operator.rows)}:
                sums |= {one + limit for one in begun}
                lines |= {(clock, one + limit) for clock, one in fixed}
            lines = lines.union(*(edges[child] for child in asked))
        if chosen is not None and node in chosen.nodes and isinstance(operator, limits.Limits):
            sums |= chosen.due(node, slot)[1]
            lines |= {(node, 0)}
        for duration in _durations(operator):
            sums |= {one + duration for one in sums}
            lines |= {(clock, one + duration) for clock, one in lines}
        after[node], edges[node] = sums, lines
        if len(sums) + len(lines) > MOST_SUMS:
            raise refuse(
                f"the rules of this alarm lean on each other in more than {MOST_SUMS} ways of adding up durations",
                "Make the alarm depend on fewer timed conditions at once.",
                name=stage.alarms[0].name if stage.alarms else "",
            )
    return after, edges


def critical_onsets(stage: Stage, world: World, clock: Columns, span: tuple[int, int]) -> Times:
    """Return the sorted critical onsets of a world within a span."""
    chosen = stage.choices(world.last, np.array(span, np.int64)) if isinstance(world.last, Last) else None
    after, edges = sums_after_onset(stage, world, chosen)
    # besides the rules' own sums: an alarm that has been answered asks again so long after the onset
    sums = np.array(sorted(frozenset({0, ASK_AGAIN_MS}).union(*after.values())), np.int64)
    lines = frozenset[tuple[int, int]]().union(*edges.values())
    found = [np.array([span[0]], np.int64)]
    reach = int(sums.max() - sums.min()) if len(sums) else 0
    if chosen is not None:
        found.append(chosen.found.starts)
    for node, later in sorted(lines):
        times = _instants(stage, node, world, chosen, clock) + later
        times = times[(times >= span[0] - reach) & (times <= span[1] + int(max(sums.max(), 0)) + reach)]
        found.append((times[:, None] - sums[None, :]).ravel())
    every = np.unique(np.concatenate(found))
    return every[(every >= span[0]) & (every < span[1])]


def _instants(stage: Stage, node: int, world: World, chosen: Choices | None, clock: Columns) -> Times:
    if chosen is None or not isinstance(world.last, Last) or node in stage.clockwork:
        return clock.column(node).times
    return chosen.instants(world.last.slot) if node in stage.tails else chosen.due(node, world.last.slot)[0]


def _reported_at(operator: object, world: World) -> Sequence[int]:
    match operator:
        case reported.PulseReport(name):
            return world.pulses.get(name, ())
        case reported.LevelReport(name) | reported.NumberReport(name):
            return [offset for offset, _ in world.levels[name].changes] if name in world.levels else ()
        case lost.Lost(part):
            since = world.lost.get(part)
            return () if since is None else (since,)
        case _:
            return ()


def _durations(operator: object) -> Sequence[int]:
    match operator:
        case held.Held() | silence.Silence() | count.Count() | follow.Without() | follow.Then():
            return (operator.duration_ms,)
        case settings.Switched():
            return sorted({order.for_ms for order in operator.orders if order.for_ms is not None})
        case _:
            return ()


def has_sun(program: Program, nodes: Sequence[int]) -> bool:
    """Tell whether a sunrise or sunset decides any of the nodes, so that no week stands for another."""
    for node in nodes:
        match program.nodes[node].operator:
            case calendar.Window(_, start, end):
                if isinstance(start, SunTime) or isinstance(end, SunTime):
                    return True
            case calendar.Daily(_, time):
                if isinstance(time, SunTime):
                    return True
            case _:
                pass
    return False
