"""Two tables that belong together: the family is never called before the resident has been asked."""

from collections.abc import Iterator
from itertools import pairwise

from stillwell.limits.table import DAY_MINUTES, DayKind, LimitRow, LimitTable


def not_before(later: LimitTable, earlier: LimitTable) -> LimitTable:
    """Return ``later`` with each of its limits raised to that of ``earlier`` for the same sign, where it is shorter.

    Longer limits give fewer false alarms, so no promise is touched but that of notice time.
    """
    longest_ms = max(later.longest_ms, earlier.longest_ms)
    rows = [
        row
        for parts in dict.fromkeys(row.parts for row in (*later.rows, *earlier.rows))
        for kind in _kinds(parts, later, earlier)
        for row in _merged(_raised(parts, kind, later, earlier))
    ]
    return LimitTable(tuple(row for row in rows if row.limit_ms < longest_ms or row.parts), longest_ms)


def _kinds(parts: tuple[str, ...], *tables: LimitTable) -> tuple[DayKind, ...]:
    """Return the kinds of day that have rows of their own; workdays and weekends where any has."""
    kinds = {row.day_kind for table in tables for row in table.rows if row.parts == parts}
    return ("any day",) if kinds == {"any day"} else ("workday", "weekend")


def _raised(parts: tuple[str, ...], kind: DayKind, *tables: LimitTable) -> Iterator[LimitRow]:
    own = [[row for row in table.rows if row.parts == parts and row.day_kind in ("any day", kind)] for table in tables]
    edges = {0, DAY_MINUTES, *(edge for rows in own for row in rows for edge in (row.from_minute, row.until_minute))}
    for start, end in pairwise(sorted(edges)):
        limits = [_limit(table, rows, start) for table, rows in zip(tables, own, strict=True)]
        yield LimitRow(parts, start, end, kind, max(limits))


def _limit(table: LimitTable, rows: list[LimitRow], minute: int) -> int:
    fits = (row.limit_ms for row in rows if row.from_minute <= minute < row.until_minute)
    return min(next(fits, table.longest_ms), table.longest_ms)


def _merged(rows: Iterator[LimitRow]) -> Iterator[LimitRow]:
    """Yield rows in order with neighbours of one limit made one."""
    last: LimitRow | None = None
    for row in rows:
        if last is None:
            last = row
        elif row.limit_ms == last.limit_ms and row.from_minute == last.until_minute:
            last = LimitRow(last.parts, last.from_minute, row.until_minute, last.day_kind, last.limit_ms)
        else:
            yield last
            last = row
    if last is not None:
        yield last
