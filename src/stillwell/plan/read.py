"""Text to plan. A text that is no plan is refused with everything that is wrong in it, each in its place."""

from collections.abc import Iterable, Mapping
from typing import Any

from stillwell.plan.check import check_plan
from stillwell.plan.fault import MOST_FAULTS, Fault
from stillwell.plan.model import Plan
from stillwell.plan.naming import path_name
from stillwell.plan.positions import Positions
from stillwell.plan.shape import plan_of
from stillwell.plan.tables import read_tables
from stillwell.problem import Place, Problem, Refusal, caret


def read_plan(text: str, file: str) -> Plan:
    """Read a plan; ``file`` is only the name that problems are told with.

    Raises Refusal with every problem found, in the order of the lines. A text that is not TOML has one problem,
    where reading stopped.
    """
    text = text.removeprefix("\N{BYTE ORDER MARK}")
    data = read_tables(text, file)
    plan, faults, untold = plan_of(data)
    if plan is not None:
        faults = [*faults, *check_plan(plan, untold)]
    if plan is None or faults:
        raise Refusal(_problems(faults, data, Positions(text), file))
    return plan


def _problems(faults: Iterable[Fault], data: Mapping[str, Any], positions: Positions, file: str) -> list[Problem]:
    problems = {}
    for fault in faults:
        problem = _problem(fault, data, positions, file)
        problems[(problem.place, problem.what)] = problem
    told = sorted(problems.values(), key=_by_place)
    if len(told) > MOST_FAULTS:
        more = Problem("there is more that is wrong", told[MOST_FAULTS].place, "Mend these first.", code="more")
        return [*told[:MOST_FAULTS], more]
    return told


def _by_place(problem: Problem) -> tuple[int, int, str]:
    return problem.place.line or 0, problem.place.column or 0, problem.what


def _problem(fault: Fault, data: Mapping[str, Any], positions: Positions, file: str) -> Problem:
    excerpt = ""
    line, column = positions.place(fault.path, at_key=fault.at_key)
    rule = _value_at(data, fault.path)
    if fault.stretch is not None and isinstance(rule, str):
        line, column = positions.inside(fault.path, fault.stretch[0])
        excerpt = caret(rule, *fault.stretch)
    place = Place(file, line, column, path_name(fault.path, data))
    return Problem(fault.what, place, fault.remedy, excerpt, fault.code)


def _value_at(data: Mapping[str, Any], path: tuple[str | int, ...]) -> object:
    value: Any = data
    for piece in path:
        try:
            value = value[piece]
        except (KeyError, IndexError, TypeError):
            return None
    return value
