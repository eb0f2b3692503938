"""One instant of the rules, worked out by the engine's own step forms from a memory without absolute times."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, TypeAlias

from stillwell.engine.cells import make_cells
from stillwell.engine.operators import edge, follow, logic, settings
from stillwell.engine.operators.cell import Cell, Timers
from stillwell.engine.program import Operator, Program
from stillwell.proof.claims import memory as memories
from stillwell.proof.claims.inputs import Cut, Value
from stillwell.record.columns import FALSE, TRUE, UNKNOWN

_BEGIN_MS: Final = 2**50

Memories: TypeAlias = tuple[tuple[Any, ...], ...]
Durations: TypeAlias = tuple[tuple[int, ...], ...]
Asked: TypeAlias = Callable[[Mapping[int, Cell], int], bool]
"""Whether what a question asks for stands, from the cells of all nodes and the instant."""


@dataclass(frozen=True, slots=True)
class Settled:
    """What an instant leaves behind.

    ``memory`` of each node that has one, ``timers`` for each such node the durations of those running, ``was`` which
    timer each of all these was before (``BEGUN``: none), ``found`` whether what is asked for stands.
    """

    memory: Memories
    timers: Durations
    was: tuple[int, ...]
    found: bool


class Moment:
    """The cells of a cut, ready for any instant."""

    def __init__(self, program: Program, cut: Cut, asked: Asked) -> None:
        self.cut = cut
        self.asked = asked
        self._timers = Timers()
        made = make_cells(program, self._timers)
        self.cells = dict(enumerate(made))
        self._now = _BEGIN_MS
        self._by_hand = {one.node for one in cut.inputs if one.sort == "report" and len(one.options) > 2}
        self._order: list[tuple[Cell, tuple[Cell, ...] | None]] = []
        self.stateful: list[int] = []
        self._memories: list[tuple[Cell, Operator, memories.Put, memories.Take, bool]] = []
        for node in cut.nodes:
            operator, children = program.nodes[node].operator, program.nodes[node].children
            callers = None
            if isinstance(operator, logic.PulseWhile):
                callers = children[: operator.pulses]
            elif isinstance(operator, logic.AnyPulse) or (isinstance(operator, edge.Fire) and operator.of_pulse):
                callers = children
            called_by = None if callers is None else tuple(made[child] for child in callers)
            self._order.append((made[node], called_by))
            if memories.is_stateful(operator):
                self.stateful.append(node)
                put, take = memories.PUT[type(operator)], memories.TAKE[type(operator)]
                self._memories.append((made[node], operator, put, take, node in self._by_hand))
        self._place = {node: place for place, node in enumerate(self.stateful)}

    @property
    def operators(self) -> list[Operator]:
        """The operators that have a memory, in order."""
        return [operator for _, operator, _, _, _ in self._memories]

    def beginnings(self) -> Iterable[Memories]:
        """Return what may be before the first instant.

        A part that a rule switches on is off at first; one that rules only switch off may stand on.
        """
        found: list[Memories] = [()]
        for _, operator, _, _, by_hand in self._memories:
            ways = [memories.fresh(operator)]
            may_be_on = isinstance(operator, settings.Switched) and not any(order.on for order in operator.orders)
            if may_be_on and not by_hand:
                ways.append((UNKNOWN, TRUE))
            found = [(*one, way) for one in found for way in ways]
        return found

    def first(
        self, before: Memories, choice: Sequence[Value], clock: Mapping[int, int], rung: frozenset[int]
    ) -> Settled:
        """Work out the first instant."""
        self._now += 1
        for node in self.cut.nodes:
            self.cells[node].start(self._now)
        spans = tuple(() for _ in self.stateful)
        return self._settle(before, spans, choice, clock, rung)

    def later(
        self,
        before: Memories,
        timers: Sequence[memories.Timers],
        choice: Sequence[Value],
        clock: Mapping[int, int],
        rung: frozenset[int],
    ) -> Settled:
        """Work out an instant. ``timers`` holds those of each node that has a memory."""
        self._now += 1
        for (cell, operator, put, _, _), memory, running in zip(self._memories, before, timers, strict=True):
            put(cell, operator, memory, running, self._now)
        return self._settle(before, timers, choice, clock, rung)

    def _settle(
        self,
        before: Memories,
        timers: Sequence[memories.Timers],
        choice: Sequence[Value],
        clock: Mapping[int, int],
        rung: frozenset[int],
    ) -> Settled:
        now = self._now
        for node, value in clock.items():
            self.cells[node].value = value
        for node in rung:
            self.cells[node].fired = now
        extra = self._take(choice, before, timers)
        for cell, called_by in self._order:
            if called_by is None:
                cell.update(now)
            else:
                for caller in called_by:
                    if caller.fired == now:
                        cell.update(now)
                        break
            if cell in extra and isinstance(cell, follow.WithoutCell) and cell.second.fired != now:
                cell.fired = now
        self._timers.due.clear()
        left, durations, was, offset = [], [], list[int](), 0
        for (cell, operator, _, take, by_hand), memory, running in zip(self._memories, before, timers, strict=True):
            after, kept = take(cell, operator, memory, running, now)
            left.append((after[0], FALSE) if by_hand else after)
            durations.append(tuple([duration for duration, _ in kept]))
            was += [number if number == memories.BEGUN else number + offset for _, number in kept]
            offset += len(running)
        return Settled(tuple(left), tuple(durations), tuple(was), self.asked(self.cells, now))

    def _take(self, choice: Sequence[Value], before: Memories, timers: Sequence[memories.Timers]) -> list[Cell]:
        """Let the inputs act; return the cells that give an overdue pulse."""
        extra = []
        for one, value in zip(self.cut.inputs, choice, strict=True):
            cell = self.cells[one.node]
            match one.sort:
                case "level" | "loss" | "number":
                    cell.value = value
                case _ if value is None:
                    pass
                case "pulse":
                    cell.fired = self._now
                case "report":
                    assert isinstance(cell, settings.SwitchedCell)
                    if one.node in self._by_hand:
                        cell.report(self._now, 1 if value == TRUE else 0)
                    elif cell.off_at != self._now:  # going off by itself now, it could only say so
                        cell.report(self._now, 1 if before[self._place[one.node]][1] == TRUE else 0)
                case "set":
                    assert isinstance(cell, settings.StateCell)
                    cell.report(self._now, value)
                case "extra" if before[self._place[one.node]][0] and not timers[self._place[one.node]]:
                    extra.append(cell)
                case _:
                    pass
        return extra
