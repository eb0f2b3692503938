"""How long silence was allowed to last after each sign of life of a record, by a table of limits of the plan."""

from dataclasses import dataclass

import numpy as np

from stillwell.civiltime import Span
from stillwell.engine.axis import Axis, union
from stillwell.engine.columns import Columns, Reports
from stillwell.engine.operators.limits import Limits, limits_at
from stillwell.engine.program import compile_formula
from stillwell.plan.model import Plan
from stillwell.record.columns import Record, Times
from stillwell.rules.parse import parse_formula


@dataclass(frozen=True, slots=True)
class Allowed:
    """The signs that a table of limits looks at, and how long it may be quiet after each; both of one length, in ms."""

    name: str
    signs: Times
    limits: Times


def allowed(plan: Plan, record: Record, name: str) -> Allowed:
    """Return what a table of limits allows after each sign of a record; of signs in one instant the shortest counts."""
    formula = parse_formula(f"no {plan.limits[name].signal} for limit {name}")
    program, number = compile_formula(plan, formula)
    node = program.nodes[number]
    assert isinstance(node.operator, Limits)
    columns = Columns(program, Axis.of_span(*record.span), Reports.of_record(record))
    sorts = [columns.pulses(child) for child in node.children[: node.operator.sorts]]
    conditions = [columns.steps(child) for child in node.children[node.operator.sorts :]]
    signs = union(sorts).times
    limits = np.full(len(signs), node.operator.longest_ms, np.int64)
    for sort, pulses in enumerate(sorts):
        here = np.searchsorted(signs, pulses.times)
        found = limits_at(node.operator, sort, conditions, pulses.times)
        limits[here] = np.minimum(limits[here], found)
    return Allowed(name, signs, limits)


def beyond(found: Allowed, end_ms: int) -> list[Span]:
    """Return when it was quiet for longer than allowed: from a limit's end to the next sign, or to ``end_ms``."""
    until = np.append(found.signs[1:], end_ms)[: len(found.signs)]
    since = found.signs + found.limits
    over = since < until
    return list(zip(since[over].tolist(), until[over].tolist(), strict=True))
