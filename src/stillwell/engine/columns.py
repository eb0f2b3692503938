"""The columnar evaluator: a whole record at once, a few array passes for each node."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, assert_never

import numpy as np

from stillwell.engine.axis import Axis, union
from stillwell.engine.operators import (
    calendar,
    compare,
    count,
    edge,
    follow,
    held,
    limits,
    logic,
    lost,
    reported,
    settings,
    silence,
)
from stillwell.engine.outcome import Outcome
from stillwell.engine.program import Program
from stillwell.record.columns import FALSE, TRUE, UNKNOWN, Column, Pulses, Record, Steps, Times

_NONE = np.empty(0, np.int64)


@dataclass
class Reports:
    """What the parts report on an axis: by signal, and for each part the instants it was heard at all."""

    signals: Mapping[str, Column]
    link_lost: Mapping[str, Times] = field(default_factory=dict)
    of_part: Mapping[str, Sequence[Times]] = field(default_factory=dict)

    @staticmethod
    def of_record(record: Record) -> "Reports":
        """Sort a record's signals by part."""
        link_lost: dict[str, Times] = {}
        of_part: dict[str, list[Times]] = {}
        for name, column in record.signals.items():
            part, _, word = name.partition(".")
            if word == "link_lost" and isinstance(column, Steps):
                link_lost[part] = column.times[column.values == TRUE]
                of_part.setdefault(part, []).append(column.times[column.values != TRUE])
            elif word:
                of_part.setdefault(part, []).append(column.times)
        return Reports(record.signals, link_lost, of_part)

    def heard(self, part: str) -> Times:
        """Return the sorted instants at which the part reported anything."""
        found = [times for times in self.of_part.get(part, ()) if len(times)]
        if len(found) == 1:
            return found[0]
        times = np.concatenate(found) if found else _NONE
        times.sort(kind="stable")
        return times


class Columns:
    """The columns of a program's nodes on one axis, worked out as they are asked for.

    ``given`` holds columns that are known beforehand, by node. Where lanes begin in the middle of a history,
    ``initial`` holds the value that a report, state or switched part has at each lane's start, ``before`` what was
    last known of a level just before ``live``, and ``past`` the pulses of a node before ``live``.
    """

    def __init__(
        self,
        program: Program,
        axis: Axis,
        reports: Reports,
        given: Mapping[int, Column] | None = None,
        initial: Mapping[int, Any] | None = None,
        before: Mapping[int, Any] | None = None,
        past: Mapping[int, Pulses] | None = None,
    ) -> None:
        self.program = program
        self.axis = axis
        self.reports = reports
        self.done: dict[int, Column] = dict(given or {})
        self.initial = initial or {}
        self.before = before or {}
        self.past = past or {}

    def pulses(self, node: int) -> Pulses:
        """Return a node's column, known to be pulses."""
        column = self.column(node)
        assert isinstance(column, Pulses)
        return column

    def steps(self, node: int) -> Steps:
        """Return a node's column, known to be a level or number."""
        column = self.column(node)
        assert isinstance(column, Steps)
        return column

    def column(self, node: int) -> Column:
        """Return a node's column."""
        if node not in self.done:
            for below in self.program.cone([node], self.done.keys()):
                if below not in self.done:
                    self.done[below] = self._evaluate(below)
        return self.done[node]

    def _signal(self, name: str) -> Steps | None:
        column = self.reports.signals.get(name)
        return column if isinstance(column, Steps) and len(column.times) else None

    def _number_reports(self, name: str) -> Steps:
        found = self._signal(name)
        return found if found is not None else Steps(_NONE, np.empty(0, np.float64))

    def _level_reports(self, name: str) -> Steps:
        found = self._signal(name)
        return found if found is not None else Steps(_NONE, np.empty(0, np.int8))

    def _with_past(self, number: int, pulses: Pulses) -> Pulses:
        return union([self.past[number], pulses]) if number in self.past else pulses

    def _evaluate(self, number: int) -> Column:
        axis, node = self.axis, self.program.nodes[number]
        operator, children = node.operator, node.children
        match operator:
            case reported.PulseReport():
                column = self.reports.signals.get(operator.signal)
                return reported.pulse_column(axis, column if isinstance(column, Pulses) else Pulses(_NONE))
            case reported.LevelReport():
                initial = self.initial.get(number, UNKNOWN)
                return reported.level_column(
                    axis, self._level_reports(operator.signal), self.steps(children[0]), initial
                )
            case reported.NumberReport():
                initial = self.initial.get(number, np.nan)
                return reported.number_column(
                    axis, self._number_reports(operator.signal), self.steps(children[0]), initial
                )
            case lost.Lost():
                gone = self.reports.link_lost.get(operator.part, _NONE)
                heard = _NONE
                if operator.supervision_ms is not None or len(gone):
                    heard = self.reports.heard(operator.part)
                return lost.column(operator, axis, heard, gone)
            case calendar.Window() | calendar.Weekdays():
                return calendar.level_column(operator, axis)
            case calendar.Daily():
                return calendar.pulse_column(operator, axis)
            case compare.Compare():
                return compare.column(operator, axis, self.steps(children[0]))
            case logic.Negation():
                return logic.negation_column(axis, self.steps(children[0]))
            case logic.AllOf():
                return logic.all_column(axis, [self.steps(child) for child in children])
            case logic.AnyOf():
                return logic.any_column(axis, [self.steps(child) for child in children])
            case logic.AnyPulse():
                return logic.any_pulse_column([self.pulses(child) for child in children])
            case logic.PulseWhile():
                pulses = [self.pulses(child) for child in children[: operator.pulses]]
                return logic.pulse_while_column(pulses, [self.steps(child) for child in children[operator.pulses :]])
            case held.Held():
                return held.column(operator, axis, self.steps(children[0]))
            case silence.Silence():
                return silence.column(operator, axis, self.pulses(children[0]))
            case limits.Limits():
                sorts = [self.pulses(child) for child in children[: operator.sorts]]
                conditions = [self.steps(child) for child in children[operator.sorts :]]
                return limits.column(operator, axis, sorts, conditions)
            case count.Count():
                return count.column(operator, axis, self.pulses(children[0]))
            case follow.Then():
                return follow.then_column(operator, self.pulses(children[0]), self.pulses(children[1]))
            case follow.Without():
                return follow.without_column(operator, axis, self.pulses(children[0]), self.pulses(children[1]))
            case edge.Edge():
                before = self.before.get(children[0])
                return self._with_past(number, edge.edge_column(operator, axis, self.steps(children[0]), before))
            case edge.Fire():
                before = self.before.get(children[0])
                return self._with_past(number, edge.fire_column(axis, self.column(children[0]), before))
            case settings.State():
                initial = self.initial.get(number, operator.initial)
                fires = [self.pulses(child) for child in children]
                return settings.state_column(operator, axis, initial, self._signal(operator.name), fires)
            case settings.StateIs():
                return settings.state_is_column(operator, axis, self.steps(children[0]))
            case settings.Switched():
                initial = self.initial.get(number, UNKNOWN)
                fires = [self.pulses(child) for child in children[1:]]
                reports = self._signal(f"{operator.part}.on")
                return settings.switched_column(operator, axis, initial, reports, self.steps(children[0]), fires)
            case _:
                assert_never(operator)


def run(program: Program, record: Record) -> Outcome:
    """Run a program over a record."""
    axis = Axis.of_span(*record.span)
    columns = Columns(program, axis, Reports.of_record(record))
    return outcome_of(columns)


def outcome_of(columns: Columns) -> Outcome:
    """Gather what a program's rules did on one lane."""
    program = columns.program
    fired = {rule.name: columns.pulses(rule.fires).times for rule in program.rules}
    returned = {rule.name: returns(columns, rule.condition) for rule in program.alarms}
    levels = {name: columns.steps(node) for name, node in program.states.items()}
    levels |= {f"{part}.on": columns.steps(node) for part, node in program.switched.items()}
    levels |= {f"{part}.lost": columns.steps(node) for part, node in program.lost.items()}
    levels |= {text: columns.steps(node) for text, node in program.claims if not program.is_pulse(node)}
    return Outcome(fired, returned, levels)


def returns(columns: Columns, condition: int) -> Times:
    """Return the instants at which a condition ends; a pulse ends as it begins."""
    column = columns.column(condition)
    if isinstance(column, Pulses):
        return column.times
    return edge.edge_column(edge.Edge(FALSE), columns.axis, column, columns.before.get(condition)).times
