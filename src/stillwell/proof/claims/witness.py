"""A timeline that shows what can happen, ready to be replayed."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from stillwell.plan.model import Plan
from stillwell.plan.names import signals_of
from stillwell.record.columns import FALSE, TRUE, UNKNOWN, Column, Pulses, Record, Steps
from stillwell.rules.kinds import Kind

Row: TypeAlias = tuple[int, str, float | None]
"""(milliseconds, signal or state, value): 1 for a pulse, 0 or 1 for a level, a number, None for unknown."""


@dataclass(frozen=True, slots=True)
class Witness:
    """What parts report and people do, from ``start_ms`` on, when nothing was known.

    Rows count from the start, in order; a state's value stands there by its number. ``at_ms`` milliseconds after the
    start it has come to what was asked for.
    """

    start_ms: int
    events: tuple[Row, ...]
    at_ms: int

    def record(self, plan: Plan) -> Record:
        """Return the timeline as a record that ends with the instant asked for, for any evaluator to run."""
        rows: dict[str, list[tuple[int, float | None]]] = {}
        for offset, name, value in self.events:
            rows.setdefault(name, []).append((self.start_ms + offset, value))
        kinds = {name: kind.kind for name, kind in signals_of(plan).items()}
        signals = {name: _column(plan, kinds, name, found) for name, found in rows.items()}
        span = self.start_ms, self.start_ms + self.at_ms + 1
        return Record(plan.home.timezone, span, signals, events=len(self.events))


def _column(plan: Plan, kinds: Mapping[str, Kind], name: str, rows: list[tuple[int, float | None]]) -> Column:
    times = np.array([time for time, _ in rows], np.int64)
    kind = kinds.get(name)
    if kind is Kind.PULSE or name.endswith(".alive"):
        return Pulses(times)
    values = [value for _, value in rows]
    if kind is Kind.NUMBER or name in plan.states:
        return Steps(times, np.array([np.nan if value is None else value for value in values], np.float64))
    return Steps(times, np.array([UNKNOWN if one is None else TRUE if one else FALSE for one in values], np.int8))
