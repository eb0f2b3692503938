"""When calendar words of a plan hold: nights, the hours of people."""

import numpy as np

from stillwell.civiltime import Span
from stillwell.engine.axis import Axis, runs
from stillwell.engine.columns import Columns, Reports
from stillwell.engine.program import compile_formula
from stillwell.plan.model import Plan
from stillwell.record.columns import TRUE
from stillwell.rules.formula import Formula


def hours_of(plan: Plan, formula: Formula, span: Span) -> list[Span]:
    """Return the stretches of a span in which a formula of calendar words holds, in order."""
    program, node = compile_formula(plan, formula)
    axis = Axis.of_span(*span)
    starts, ends = runs(axis, Columns(program, axis, Reports({})).steps(node), TRUE)
    return list(zip(*map(np.ndarray.tolist, (starts, ends)), strict=True))


def nights(plan: Plan, span: Span) -> list[Span]:
    """Return the nights of a span, as the plan says when it is night."""
    return hours_of(plan, plan.home.night.formula, span)
