"""Make the step form of each node of a program."""

from collections.abc import Sequence
from typing import assert_never

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
from stillwell.engine.operators.cell import Cell, Timers
from stillwell.engine.program import Program


def make_cells(program: Program, timers: Timers) -> list[Cell]:
    """Return one cell for each node, wired to the cells below it."""
    cells: list[Cell] = []
    for index, node in enumerate(program.nodes):
        below = [cells[child] for child in node.children]
        if isinstance(node.operator, limits.Limits):
            joined = [program.nodes[child].children for child in node.children[: node.operator.sorts]]
            givers = [[cells[giver] for giver in one] for one in joined]
            cells.append(limits.LimitsCell(node.operator, below, givers, index, timers))
        else:
            cells.append(_cell(program, index, below, timers))
    return cells


def _cell(program: Program, index: int, below: Sequence[Cell], timers: Timers) -> Cell:
    operator = program.nodes[index].operator
    match operator:
        case reported.PulseReport():
            return reported.PulseCell()
        case reported.LevelReport():
            return reported.ValueCell(below[0], reported.level_of)
        case reported.NumberReport():
            return reported.ValueCell(below[0], reported.number_of)
        case lost.Lost():
            return lost.LostCell(operator, index, timers)
        case calendar.Window() | calendar.Weekdays():
            return calendar.WindowCell(operator, index, timers)
        case calendar.Daily():
            return calendar.DailyCell(operator, index, timers)
        case compare.Compare():
            return compare.CompareCell(operator, below[0])
        case logic.Negation():
            return logic.NegationCell(below[0])
        case logic.AllOf():
            return logic.GatherCell(below, every=True)
        case logic.AnyOf():
            return logic.GatherCell(below, every=False)
        case logic.AnyPulse():
            return logic.AnyPulseCell()
        case logic.PulseWhile():
            return logic.PulseWhileCell(below[: operator.pulses], below[operator.pulses :])
        case held.Held():
            return held.HeldCell(operator, below[0], index, timers)
        case silence.Silence():
            return silence.SilenceCell(operator, below[0], index, timers)
        case limits.Limits():
            raise AssertionError("made with the cells of its signals")
        case count.Count():
            return count.CountCell(operator, below[0], index, timers)
        case follow.Then():
            return follow.ThenCell(operator, below[0], below[1])
        case follow.Without():
            return follow.WithoutCell(operator, below[0], below[1], index, timers)
        case edge.Edge():
            return edge.EdgeCell(operator, below[0])
        case edge.Fire():
            return edge.FireCell(operator, below[0])
        case settings.State():
            return settings.StateCell(operator, below)
        case settings.StateIs():
            return settings.StateIsCell(operator, below[0])
        case settings.Switched():
            return settings.SwitchedCell(operator, below[0], below[1:], index, timers)
        case _:
            assert_never(operator)


def callers(program: Program) -> list[tuple[int, ...]]:
    """Return for each node the nodes that must look when it changes.

    A pulse let through by levels is called by its pulses alone: a level that changes calls nobody there.
    """
    above: list[list[int]] = [[] for _ in program.nodes]
    for index, node in enumerate(program.nodes):
        children = node.children
        if isinstance(node.operator, logic.PulseWhile):
            children = children[: node.operator.pulses]
        for child in dict.fromkeys(children):
            above[child].append(index)
    return [tuple(one) for one in above]
