"""The signs of life of a world, and how its levels turned before, as columns of the engine, one lane for each onset."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from stillwell.engine.operators import edge, reported
from stillwell.engine.program import Program
from stillwell.proof.last_signs import Choices, Last, LastSigns, Sort
from stillwell.record.columns import FALSE, TRUE, Column, Pulses, Steps, Times


@dataclass(frozen=True, slots=True)
class Lanes:
    """Lanes: their onsets, where each begins, and how far its time is shifted."""

    onsets: Times
    low: Times
    shift: Times


def spread(zero: Times, offsets: Sequence[int]) -> Times:
    """Return the offsets counted from each lane's zero."""
    return (zero[:, None] + np.array(sorted(offsets), np.int64)[None, :]).ravel()


def sign_columns(
    last_signs: LastSigns | None,
    nodes: Sequence[int],
    tails: frozenset[int],
    life: tuple[int, ...],
    last: Last | Sort | None,
    lanes: Lanes,
) -> dict[int, Column]:
    """Return the columns of the tails among the nodes, and of the levels that a table asks and a world decides.

    ``life`` and ``last`` are the world's. Where the last sign is chosen for each onset, ``life`` may go on until then.
    """
    heard = [node for node in nodes if node in tails]
    free = [] if last_signs is None else [node for node in nodes if node in last_signs.free]
    if last_signs is not None and isinstance(last, Last) and len(lanes.onsets):
        chosen = last_signs.choices(last, int(lanes.onsets.min()), int(lanes.onsets.max()))
        if chosen is not None:
            return _chosen(chosen, last.slot, heard, free, life, lanes)
    zero, start = lanes.onsets + lanes.shift, lanes.low + lanes.shift
    tables = frozenset[int]() if last_signs is None else last_signs.sort_tails
    hit = last.tails if isinstance(last, Sort) else tails - tables
    true = last.true if isinstance(last, Sort) else frozenset[int]()
    given: dict[int, Column] = {node: Pulses(spread(zero, life if node in hit else ())) for node in heard}
    return given | {node: Steps(start, np.full(len(start), TRUE if node in true else FALSE, np.int8)) for node in free}


def _chosen(
    chosen: Choices, slot: int, heard: Sequence[int], free: Sequence[int], life: tuple[int, ...], lanes: Lanes
) -> dict[int, Column]:
    signs, sorts = chosen.signs(slot, lanes.onsets)
    until = lanes.onsets[:, None] + np.array(sorted(life), np.int64)
    earlier = until < signs[:, None]
    before = (until + lanes.shift[:, None])[earlier]
    given: dict[int, Column] = {}
    for node in heard:
        here = np.array([node in sort.tails for sort in chosen.kinds])[sorts]
        given[node] = Pulses(np.sort(np.concatenate([before, (signs + lanes.shift)[here]])))
    for node in free:
        true = np.array([node in sort.true for sort in chosen.kinds])[sorts]
        given[node] = Steps(lanes.low + lanes.shift, np.where(true, TRUE, FALSE).astype(np.int8))
    return given


def turned_before(
    program: Program, nodes: Sequence[int], levels: Mapping[str, tuple[tuple[int, float], ...]], zero: Times
) -> dict[int, Pulses]:
    """Return, by node, when levels began or ended before each lane's zero: before it a lane only remembers.

    ``levels`` maps signals to what is reported of them and when; the first report says how they had stood.
    """
    found: dict[int, Pulses] = {}
    for node in nodes:
        operator, children = program.nodes[node].operator, program.nodes[node].children
        if not isinstance(operator, edge.Edge):
            continue
        below = program.nodes[children[0]].operator
        reports = levels.get(below.signal, ()) if isinstance(below, reported.LevelReport) else ()
        turned = [
            offset
            for (_, before), (offset, value) in pairwise(reports)
            if offset < 0 and value == operator.to and before != value
        ]
        if turned:
            found[node] = Pulses(spread(zero, turned))
    return found
