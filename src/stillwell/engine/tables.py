"""A table of limits said in formulas: the sorts of sign it tells apart, and when each of its rows applies."""

from collections.abc import Iterator
from dataclasses import dataclass

from stillwell.plan.limits import LimitRow, LimitTable
from stillwell.plan.model import Plan
from stillwell.plan.signs import Sign, outside_doors, row_fits, signs
from stillwell.plan.texts import EVERY_DAY
from stillwell.rules.formula import And, Between, Formula, OnDays, Signal


@dataclass(frozen=True, slots=True)
class Told:
    """A row: its number, its limit, the sorts of sign (by number) it is for.

    ``hours``: what the clock must say at the sign's instant; None: anything. ``after_door_ms``: how long ago a door may
    have moved at most; None: that is not asked.
    """

    number: int
    limit_ms: int
    sorts: frozenset[int]
    hours: Formula | None
    after_door_ms: int | None


@dataclass(frozen=True, slots=True)
class Table:
    """``sorts`` holds for each sort the formulas of its signs; signs of one sort have the same rows in common.

    ``doors`` are the pulses that tell that a door to the outside moved.
    """

    sorts: tuple[tuple[Formula, ...], ...]
    rows: tuple[Told, ...]
    doors: tuple[Formula, ...]


def table_of(plan: Plan, table: LimitTable) -> Table:
    """Return a checked table in formulas; rows that no sign can have are left out."""
    by_rows: dict[tuple[int, ...], list[Formula]] = {}
    for sign in signs(plan, table.signal):
        by_rows.setdefault(tuple(_rows_for(table, sign)), []).append(sign.formula)
    rows = []
    for number, row in enumerate(table.rows):
        sorts = frozenset(sort for sort, numbers in enumerate(by_rows) if number in numbers)
        if sorts:
            rows.append(Told(number, row.limit, sorts, hours_of(row), row.after_door))
    doors = [Signal(f"{door}.{word}") for door in outside_doors(plan) for word in ("opened", "closed")]
    return Table(tuple(map(tuple, by_rows.values())), tuple(rows), tuple(doors))


def hours_of(row: LimitRow) -> Formula | None:
    """Return what the clock must say at the instant of a sign for a row to apply; None: anything."""
    parts: list[Formula] = []
    if row.hours is not None and row.hours[0] != row.hours[1]:
        parts.append(Between(*row.hours))
    if row.days != EVERY_DAY:
        parts.append(OnDays(row.days))
    return And(tuple(parts)) if len(parts) > 1 else parts[0] if parts else None


def _rows_for(table: LimitTable, sign: Sign) -> Iterator[int]:
    for number, row in enumerate(table.rows):
        if row_fits(row, sign):
            yield number
            if hours_of(row) is None and row.after_door is None:
                return
