"""Replay: what a plan would have done over a record."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillwell.engine import columns
from stillwell.engine.axis import cover
from stillwell.engine.outcome import Evaluator, Outcome
from stillwell.engine.program import Program, RuleNode, compile_plan
from stillwell.plan.model import Plan
from stillwell.record.columns import Gap, Record, Times
from stillwell.replay.rates import Rate, rate


@dataclass(frozen=True, slots=True)
class Moment:
    """A rule that fired; ``in_gap``: while nothing reported, so that it says nothing about the resident."""

    at_ms: int
    rule: RuleNode
    in_gap: bool


@dataclass(frozen=True)
class Replay:
    """What would have happened: moments in order of time, and how often each alarm rang in watched time."""

    program: Program
    outcome: Outcome
    moments: tuple[Moment, ...]
    rates: Mapping[str, Rate]
    watched_ms: int


def replay(plan: Plan, record: Record, evaluate: Evaluator = columns.run) -> Replay:
    """Run a plan over a record."""
    program = compile_plan(plan)
    outcome = evaluate(program, record)
    watched = watched_ms(record)
    moments, rates = [], {}
    for rule in program.rules:
        fired = outcome.fired[rule.name]
        inside = in_gaps(record.gaps, fired)
        times = zip(fired.tolist(), inside.tolist(), strict=True)
        moments += [Moment(at_ms, rule, in_gap) for at_ms, in_gap in times]
        if rule.is_alarm:
            rates[rule.name] = rate(len(fired) - int(inside.sum()), watched)
    moments.sort(key=lambda moment: moment.at_ms)
    return Replay(program, outcome, tuple(moments), rates, watched)


def in_gaps(gaps: tuple[Gap, ...], times: Times) -> NDArray[np.bool_]:
    """Tell which instants lie in a gap of the record."""
    edges = np.array([(gap.start_ms, gap.end_ms) for gap in gaps], np.int64).reshape(-1, 2)
    starts, ends = cover(edges[:, 0], edges[:, 1])
    inside: NDArray[np.bool_] = np.searchsorted(starts, times, "right") > np.searchsorted(ends, times, "right")
    return inside


def watched_ms(record: Record) -> int:
    """Return for how long the record was watched: its span less its gaps."""
    return sum(end - start for start, end in watched_spans(record))


def watched_spans(record: Record) -> list[tuple[int, int]]:
    """Return the watched stretches of a record, in order."""
    begin, end = record.span
    spans = []
    for gap in sorted(record.gaps, key=lambda one: one.start_ms):
        if min(gap.start_ms, end) > begin:
            spans.append((begin, min(gap.start_ms, end)))
        begin = max(begin, gap.end_ms)
    return [*spans, (begin, end)] if begin < end else spans
