"""Two tables that belong together: the family is never called before the resident has been asked."""

from collections.abc import Iterator, Sequence
from itertools import groupby, pairwise
from operator import itemgetter
from typing import TypeAlias

from stillwell.limits.table import DAY_MINUTES, LimitRow, LimitTable
from stillwell.plan.texts import EVERY_DAY


def not_before(later: LimitTable, earlier: LimitTable) -> LimitTable:
    """Return ``later`` with each of its limits raised to that of ``earlier`` for the same sign, where it is shorter.

    Longer limits give fewer false alarms, so no promise is touched but that of notice time.
    """
    longest_ms = max(later.longest_ms, earlier.longest_ms)
    rows = [
        row
        for parts in dict.fromkeys(row.parts for row in (*later.rows, *earlier.rows))
        for days, found in _by_days(parts, later, earlier)
        for row in (LimitRow(parts, start, end, days, limit_ms) for start, end, limit_ms in found)
    ]
    return LimitTable(tuple(row for row in rows if row.limit_ms < longest_ms or row.parts), longest_ms)


Stretch: TypeAlias = tuple[int, int, int]
"""From one minute of the day to another, and the limit in ms."""


def _by_days(parts: tuple[str, ...], *tables: LimitTable) -> Iterator[tuple[frozenset[int], tuple[Stretch, ...]]]:
    """Yield days of the week that have the same limits, and these around the clock."""
    found: dict[tuple[Stretch, ...], set[int]] = {}
    for day in sorted(EVERY_DAY):
        found.setdefault(tuple(_merged(_raised(parts, day, tables))), set()).add(day)
    for stretches, days in found.items():
        yield frozenset(days), stretches


def _raised(parts: tuple[str, ...], day: int, tables: Sequence[LimitTable]) -> Iterator[Stretch]:
    own = [[row for row in table.rows if row.parts == parts and day in row.days] for table in tables]
    edges = {0, DAY_MINUTES, *(edge for rows in own for row in rows for edge in (row.from_minute, row.until_minute))}
    for start, end in pairwise(sorted(edges)):
        yield start, end, max(_limit(table, rows, start) for table, rows in zip(tables, own, strict=True))


def _limit(table: LimitTable, rows: list[LimitRow], minute: int) -> int:
    fits = (row.limit_ms for row in rows if row.from_minute <= minute < row.until_minute)
    return min(next(fits, table.longest_ms), table.longest_ms)


def _merged(stretches: Iterator[Stretch]) -> Iterator[Stretch]:
    """Make neighbours of one limit one."""
    for limit_ms, alike in groupby(stretches, key=itemgetter(2)):
        first, *more = alike
        yield first[0], (more[-1] if more else first)[1], limit_ms
