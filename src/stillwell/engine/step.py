"""The step evaluator: an event or a passage of time goes in, decisions and the next deadline come out.

All events of one instant go in together. Between two instants the evaluator visits every moment at which a timer or
an edge of the calendar falls due, in order, so that one leap of time equals many small steps.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from heapq import heapify, heappop, heappush
from typing import Any, TypeAlias

from stillwell.engine.cells import callers, make_cells
from stillwell.engine.operators.cell import NEVER, Cell, Timers
from stillwell.engine.operators.edge import FireCell
from stillwell.engine.operators.logic import AnyPulseCell, PulseWhileCell
from stillwell.engine.operators.lost import LostCell
from stillwell.engine.operators.reported import PulseCell, ValueCell
from stillwell.engine.operators.settings import StateCell, SwitchedCell
from stillwell.engine.program import Program, RuleNode
from stillwell.record.columns import TRUE

Event: TypeAlias = tuple[str, float | None]
"""A signal's name and its value: 1 for a pulse, 0 or 1 for a level, a number; None is unknown."""


@dataclass(frozen=True, slots=True)
class Fired:
    """A rule fired: an alarm was raised, an aid acts."""

    at_ms: int
    rule: RuleNode


@dataclass(frozen=True, slots=True)
class Returned:
    """An alarm's condition ended."""

    at_ms: int
    rule: RuleNode


@dataclass(frozen=True, slots=True)
class Command:
    """A part is to be switched."""

    at_ms: int
    part: str
    on: bool


Decision: TypeAlias = Fired | Returned | Command


@dataclass(frozen=True, slots=True)
class _Source:
    """Where a signal's events go: what takes the value, and the cell that tells whether the part is lost."""

    report: Callable[[int, float | None], None] | None
    index: int
    lost: LostCell | None
    lost_index: int


def _called_by_pulses(cell: Cell) -> bool:
    """Tell whether a cell may only be updated when a pulse below it fires."""
    return isinstance(cell, AnyPulseCell | PulseWhileCell) or (isinstance(cell, FireCell) and cell.of_pulse)


@dataclass
class Stepper:
    """The state of one home's rules, moved on by ``take`` and ``advance``. Its whole state is ``snapshot()``."""

    program: Program
    start_ms: int
    unknown_signals: int = field(default=0, init=False)

    def __post_init__(self) -> None:
        self.now = self.start_ms - 1
        self._timers = Timers()
        self._cells = make_cells(self.program, self._timers)
        self._callers = callers(self.program)
        self._rules = {rule.fires: rule for rule in self.program.rules}
        self._switches = {node: part for part, node in self.program.switched.items()}
        self._watched: dict[int, list[tuple[int, float]]] = {}
        self._sources: dict[str, _Source | None] = {}
        self._decisions: list[Decision] = []
        for cell in self._cells:
            cell.start(self.start_ms)
        for index, cell in enumerate(self._cells):
            if not _called_by_pulses(cell):
                self._timers.wake(self.start_ms, index)  # the first instant is decided with its events

    @classmethod
    def resume(cls, program: Program, snapshot: dict[str, Any]) -> "Stepper":
        """Take up a state that was stored; timers go on, and silence since then counts as silence.

        A cell without a memory (None: new in a changed plan) starts fresh.
        """
        now = snapshot["now"]
        stepper = cls(program, snapshot["start"])
        if now < snapshot["start"]:
            return stepper  # stored before its first instant
        stepper._timers.due.clear()
        stepper.now = now
        for index, (cell, memory) in enumerate(zip(stepper._cells, snapshot["cells"], strict=True)):
            if memory is not None:
                cell.load(memory)
            else:
                cell.start(now)
                if not _called_by_pulses(cell):
                    stepper._timers.wake(now + 1, index)
        stepper._timers.forget_until(now)
        return stepper

    def snapshot(self) -> dict[str, Any]:
        """Return the whole state as plain values (they survive JSON)."""
        return {"start": self.start_ms, "now": self.now, "cells": [cell.dump() for cell in self._cells]}

    def deadline(self) -> int | None:
        """Return the next instant at which something may happen by itself."""
        return self._timers.due[0][0] if self._timers.due else None

    def decisions(self) -> list[Decision]:
        """Hand over what was decided since the last call, in order."""
        decided, self._decisions = self._decisions, []
        return decided

    def advance(self, to_ms: int) -> list[Decision]:
        """Let time pass up to and including ``to_ms``."""
        due = self._timers.due
        while due and due[0][0] <= to_ms:
            now = due[0][0]
            self._settle(now, self._pop_due(now))
        self.now = max(self.now, to_ms)
        return self.decisions()

    def take(self, at_ms: int, events: Iterable[Event]) -> list[Decision]:
        """Take all events of one instant.

        Arrival counts: an instant that has been decided already is not decided again; its late events are taken
        one millisecond after the last.
        """
        now = at_ms if at_ms > self.now else self.now + 1
        due = self._timers.due
        while due and due[0][0] < now:
            earlier = due[0][0]
            self._settle(earlier, self._pop_due(earlier))
        dirty = self._pop_due(now)
        for name, value in events:
            self._report(now, name, value, dirty)
        self._settle(now, dirty)
        return self.decisions()

    def _pop_due(self, now: int) -> list[int]:
        due, woken = self._timers.due, []
        while due and due[0][0] <= now:
            woken.append(heappop(due)[1])
        return woken

    def _report(self, now: int, name: str, value: float | None, dirty: list[int]) -> None:
        try:
            source = self._sources[name]
        except KeyError:
            source = self._sources[name] = self._find(name)
        if source is None:
            self.unknown_signals += 1
            return
        lost = source.lost
        if lost is not None:
            lost.last = now
            if lost.value:
                dirty.append(source.lost_index)
        if source.report is not None:
            source.report(now, value)
            dirty.append(source.index)

    def _find(self, name: str) -> _Source | None:
        part, _, word = name.partition(".")
        lost_index = self.program.lost.get(part, -1)
        lost = self._cells[lost_index] if lost_index >= 0 else None
        assert lost is None or isinstance(lost, LostCell)
        if word == "link_lost":
            return None if lost is None else _Source(lost.report, lost_index, None, -1)
        index = self.program.states[name] if name in self.program.states else self.program.sources.get(name, -1)
        if word == "on" and part in self.program.switched:
            index = self.program.switched[part]
        if index >= 0:
            cell = self._cells[index]
            assert isinstance(cell, PulseCell | ValueCell | StateCell | SwitchedCell)
            return _Source(cell.report, index, lost, lost_index)
        return None if lost is None else _Source(None, -1, lost, lost_index)

    def _settle(self, now: int, dirty: list[int]) -> None:
        """Bring everything that depends on the dirty cells up to date, children before parents."""
        cells, above, rules = self._cells, self._callers, self._rules
        if len(dirty) > 1:
            heapify(dirty)
        last = -1
        while dirty:
            index = heappop(dirty)
            if index == last:
                continue
            last = index
            if not cells[index].update(now):
                if index in self._switches:
                    self._ordered(now, index)
                continue
            if index in rules:
                self._rule(now, index)
            elif index in self._switches:
                self._ordered(now, index)
            if index in self._watched:
                self._watched[index].append((now, cells[index].value))
            for caller in above[index]:
                heappush(dirty, caller)
        self.now = now

    def _rule(self, now: int, index: int) -> None:
        cell, rule = self._cells[index], self._rules[index]
        assert isinstance(cell, FireCell)
        if cell.fired == now:
            self._decisions.append(Fired(now, rule))
        if cell.returned == now and rule.is_alarm:
            self._decisions.append(Returned(now, rule))

    def _ordered(self, now: int, index: int) -> None:
        cell = self._cells[index]
        assert isinstance(cell, SwitchedCell)
        if cell.ordered == now:
            self._decisions.append(Command(now, self._switches[index], cell.wanted))

    def watch(self, nodes: Iterable[int]) -> dict[int, list[tuple[int, float]]]:
        """Keep every change of these nodes' values from now on; return the growing lists."""
        self._watched = {node: [(self.now, self._cells[node].value)] for node in nodes}
        return self._watched

    def value(self, node: int) -> float:
        """Return a node's value now: a number, or FALSE, TRUE, UNKNOWN."""
        return float(self._cells[node].value)

    def is_on(self, node: int) -> bool:
        """Tell whether a node gave a pulse in the last instant decided, or is a level that is true."""
        cell = self._cells[node]
        return cell.fired == self.now or (cell.value == TRUE and not self.program.is_pulse(node))

    def heard_ms(self, part: str) -> int | None:
        """Return when a part last reported; None: never, or the plan has no such part."""
        index = self.program.lost.get(part)
        cell = None if index is None else self._cells[index]
        return cell.last if isinstance(cell, LostCell) and cell.last > NEVER else None
