"""Replay: what a plan would have done over a record."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from stillwell.engine import columns
from stillwell.engine.outcome import Evaluator, Outcome
from stillwell.engine.program import Program, RuleNode, compile_plan
from stillwell.plan.model import Plan
from stillwell.record.columns import Gap, Record
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
    moments = [
        Moment(at_ms, rule, in_gap(record.gaps, at_ms))
        for rule in program.rules
        for at_ms in outcome.fired[rule.name].tolist()
    ]
    moments.sort(key=lambda moment: moment.at_ms)
    watched = watched_ms(record)
    rates = {}
    for rule in program.alarms:
        fired = outcome.fired[rule.name]
        counted = fired[~np.array([in_gap(record.gaps, at_ms) for at_ms in fired.tolist()], bool)]
        rates[rule.name] = rate(len(counted), watched)
    return Replay(program, outcome, tuple(moments), rates, watched)


def in_gap(gaps: tuple[Gap, ...], at_ms: int) -> bool:
    """Tell whether an instant lies in a gap of the record."""
    return any(gap.start_ms <= at_ms < gap.end_ms for gap in gaps)


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
