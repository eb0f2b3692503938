"""What an invented home says from an instant on, with what befalls it: reports in order of time, to be played."""

from collections.abc import Iterable, Iterator
from heapq import merge
from typing import Final, TypeAlias

import numpy as np

from stillwell.plan.check_wiring import reported_by
from stillwell.plan.kinds import SIGNALS_OF
from stillwell.plan.model import Plan
from stillwell.proof.faults import LATE_MS
from stillwell.record.columns import TRUE, UNKNOWN, Column, Pulses, Record
from stillwell.replay.silence import silenced_by_collapse
from stillwell.rules.kinds import Kind
from stillwell.simulate.events import Break, Hazard

Report: TypeAlias = tuple[int, str, float | None]
"""When, which signal, what value: 1 for a pulse, 0 or 1 for a level, a number; None is unknown."""

STUCK_EVERY_MS: Final = 30_000
"""So often a part that is stuck says the same again."""


def script(
    plan: Plan, record: Record, from_ms: int, hazards: Iterable[Hazard] = (), breaks: Iterable[Break] = ()
) -> list[Report]:
    """Return the reports of a record from ``from_ms`` to its end: first how everything stands, then what happens.

    A hazard makes parts report what the proof takes it to do; after one that makes the resident lie still, no sign of
    life comes any more. What is broken says nothing, the same over and over, or everything ten minutes later.
    """
    end_ms = record.span[1]
    said = list(merge(*(_from(name, column, from_ms) for name, column in record.signals.items())))
    for hazard in hazards:
        said = _with_hazard(plan, said, hazard)
    for one in breaks:
        said = _with_break(plan, said, one, end_ms)
    return [one for one in sorted(said, key=lambda one: one[0]) if one[0] < end_ms]


def values_of(column: Column) -> list[float | None]:
    """Return the values of a column as reports carry them."""
    if isinstance(column, Pulses):
        return [1.0] * len(column.times)
    if column.values.dtype == np.int8:
        return [None if value == UNKNOWN else value / TRUE for value in column.values.tolist()]
    return [None if np.isnan(value) else value for value in column.values.tolist()]


def _from(name: str, column: Column, from_ms: int) -> Iterator[Report]:
    first = int(np.searchsorted(column.times, from_ms, "left" if isinstance(column, Pulses) else "right"))
    values = values_of(column)
    if first and not isinstance(column, Pulses):
        yield from_ms, name, values[first - 1]
    for at_ms, value in zip(column.times[first:].tolist(), values[first:], strict=True):
        yield at_ms, name, value


def _with_hazard(plan: Plan, said: list[Report], hazard: Hazard) -> list[Report]:
    way, at_ms = hazard.way, hazard.at_ms
    silent = silenced_by_collapse(plan) if way.life_ends else frozenset[str]()
    driven = {*way.pulses, *way.levels}
    kept = [one for one in said if one[0] < at_ms or one[1] not in silent | driven]
    kept += [(at_ms + offset, name, 1.0) for name, offsets in way.pulses.items() for offset in offsets]
    for name, level in way.levels.items():
        kept += [(at_ms + offset, name, _reported(value)) for offset, value in level.changes]
    if way.mains_off:
        held = {
            name: at_ms + (part.hold_up or 0)
            for name, part in plan.parts.items()
            if part.power == "mains" and part.kind != "controller"
        }
        kept = [one for one in kept if one[0] < held.get(_part(one), one[0] + 1)]
    return kept


def _with_break(plan: Plan, said: list[Report], broken: Break, end_ms: int) -> list[Report]:
    until_ms = min(broken.until_ms, end_ms)
    within = [_part(one) in broken.parts and broken.at_ms <= one[0] < until_ms for one in said]
    kept = [one for one, is_in in zip(said, within, strict=True) if not is_in]
    if broken.how == "late":
        return kept + [(one[0] + LATE_MS, *one[1:]) for one, is_in in zip(said, within, strict=True) if is_in]
    if broken.how == "stuck":
        kept += [one for one, is_in in zip(said, within, strict=True) if is_in and one[1].endswith(".alive")]
        kept += _over_and_over(plan, broken, until_ms)
    if broken.until_ms < end_ms:
        kept += _standing(plan, said, broken)
    return kept


def _over_and_over(plan: Plan, broken: Break, until_ms: int) -> Iterator[Report]:
    for part in broken.parts:
        for word, kind in SIGNALS_OF[plan.parts[part].kind].items():
            if kind.kind is Kind.LEVEL:
                yield broken.at_ms, f"{part}.{word}", 1.0
            elif kind.kind is Kind.PULSE and word not in ("opened", "closed"):
                for at_ms in range(broken.at_ms, until_ms, STUCK_EVERY_MS):
                    yield at_ms, f"{part}.{word}", 1.0


def _standing(plan: Plan, said: list[Report], broken: Break) -> Iterator[Report]:
    """Yield how levels and numbers of parts that work again stand then."""
    before = (one for one in sorted(said, key=lambda one: one[0]) if one[0] < broken.until_ms)
    last = {name: value for _, name, value in before if name.partition(".")[0] in broken.parts}
    for name, value in last.items():
        if reported_by(plan.parts[name.partition(".")[0]])[name.partition(".")[2]].kind is not Kind.PULSE:
            yield broken.until_ms, name, value


def _part(report: Report) -> str:
    return report[1].partition(".")[0]


def _reported(value: float) -> float | None:
    """Return a value of the proof's worlds as a report carries it: there a float is a number, an int one of three."""
    if isinstance(value, int):
        return None if value == UNKNOWN else value / TRUE
    return value
