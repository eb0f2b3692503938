"""Luck, where searching is too much: a few hundred invented stories, run by the engine.

Events come one or two at a time, at distances at which something may just have ended or just not. The same question
always gets the same stories.
"""

from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np

from stillwell.engine.operators import count, follow, held, limits, settings, silence
from stillwell.engine.program import Program
from stillwell.proof.claims.hours import Hours
from stillwell.proof.claims.inputs import Cut, Input, Value
from stillwell.proof.claims.reports import said
from stillwell.proof.claims.witness import Row
from stillwell.record.columns import TRUE

STORIES: Final = 150
EVENTS: Final = 14
_SHORT_MS: Final = (1, 1000, 60_000)
_HOURS_MS: Final = (3_600_000, 6 * 3_600_000)


def stories(program: Program, cut: Cut, hours: Hours) -> Iterator[tuple[int, list[Row], int]]:
    """Yield invented stories: start, rows, and the instant until which they are to be followed."""
    chance = np.random.default_rng(0)
    inputs = [one for one in cut.inputs if one.sort not in ("extra", "loss")]
    delays = [
        *_SHORT_MS,
        *_HOURS_MS,
        *(near for span in _durations(program, cut) for near in (span - 1, span, span + 1)),
    ]
    if not inputs:
        return
    for _ in range(STORIES):
        stretch = hours.real[int(chance.integers(min(len(hours.real), 60)))]
        start = now = stretch[0] + int(chance.integers(0, 60)) * 60_000
        rows: list[Row] = []
        for _ in range(EVENTS):
            for _ in range(int(chance.integers(1, 3))):
                rows += [(now, name, value) for name, value in _act(program, inputs, chance)]
            now += max(1, delays[int(chance.integers(len(delays)))])
        yield start, rows, now


def _act(program: Program, inputs: Sequence[Input], chance: np.random.Generator) -> list[tuple[str, float | None]]:
    one = inputs[int(chance.integers(len(inputs)))]
    value: Value = one.options[int(chance.integers(1, len(one.options)))]
    match one.sort:
        case "report":
            by_hand = len(one.options) > 2
            return [(f"{one.part}.on", 1 if value == TRUE else 0)] if by_hand else []
        case "set":
            operator = program.nodes[one.node].operator
            assert isinstance(operator, settings.State)
            return [(operator.name, value)]
        case _:
            return [(name, reported) for name, reported, _ in said(program, one.node, value)]


def _durations(program: Program, cut: Cut) -> list[int]:
    found = set[int]()
    for node in cut.nodes:
        match program.nodes[node].operator:
            case held.Held() | silence.Silence() | count.Count() | follow.Then() | follow.Without() as operator:
                found.add(operator.duration_ms)
            case limits.Limits(rows, longest_ms):
                found |= {longest_ms, *(row.limit_ms for row in rows)}
            case settings.Switched(_, orders):
                found |= {order.for_ms for order in orders if order.for_ms is not None}
            case _:
                pass
    return sorted(found)
