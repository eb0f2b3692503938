"""What may be asked of a program, in the two shapes in which it must be answered."""

from collections.abc import Mapping
from dataclasses import dataclass

from stillwell.engine.operators.cell import Cell
from stillwell.engine.program import Program
from stillwell.engine.step import Fired, Stepper
from stillwell.proof.claims.witness import Row
from stillwell.record.columns import TRUE


@dataclass(frozen=True, slots=True)
class Question:
    """Can all these nodes be true at once, or, where ``firing``, all these rules fire in one instant?"""

    nodes: tuple[int, ...]
    firing: bool = False

    def stands(self, cells: Mapping[int, Cell], now: int) -> bool:
        """Tell whether it is so in an instant that has just been worked out."""
        if self.firing:
            return all(cells[node].fired == now for node in self.nodes)
        return all(cells[node].value == TRUE for node in self.nodes)

    def first_seen(self, program: Program, start_ms: int, rows: list[Row], until_ms: int) -> int | None:
        """Return the first instant at which it is so when the engine runs the rows, up to and with ``until_ms``."""
        stepper = Stepper(program, start_ms)
        changes = stepper.watch(() if self.firing else self.nodes)
        decided, number = [], 0
        while number < len(rows):
            now = rows[number][0]
            events = []
            while number < len(rows) and rows[number][0] == now:
                events.append(rows[number][1:])
                number += 1
            decided += stepper.take(now, events)
        decided += stepper.advance(until_ms)
        if self.firing:
            fired: dict[int, set[int]] = {}
            for decision in decided:
                if isinstance(decision, Fired):
                    fired.setdefault(decision.at_ms, set()).add(decision.rule.fires)
            return min((at_ms for at_ms, rules in fired.items() if rules >= set(self.nodes)), default=None)
        return _all_true(changes, start_ms)


def _all_true(changes: Mapping[int, list[tuple[int, float]]], start_ms: int) -> int | None:
    true: dict[int, bool] = {}
    happened: dict[int, dict[int, bool]] = {}
    for node, found in changes.items():
        true[node] = False
        for at_ms, value in found:
            happened.setdefault(max(at_ms, start_ms), {})[node] = value == TRUE
    for at_ms in sorted(happened):
        true |= happened[at_ms]
        if all(true.values()):
            return at_ms
    return None
