"""``no p for limit NAME``: no p for as long as a table allows after the last one.

At t, with s the last p at or before t: t - s >= L(s). The first row that applies to s fixes L(s), else the table's
longest. Of several p in one instant the shortest limit counts, and where it is unknown whether a row applies the
shorter one: doubt falls on the side of telling. The start of watching counts as a p to which no row applies, but
until its limit is over nobody knows: unknown, not false.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from stillwell.engine.axis import Axis, at, merged_times, steps_from
from stillwell.engine.operators.cell import NEVER, Cell, Timers
from stillwell.record.columns import FALSE, TRUE, UNKNOWN, Pulses, Steps, Times


@dataclass(frozen=True, slots=True)
class Row:
    """A limit, the sorts of sign (by number) it is for, and the child (by number) that tells whether it applies.

    Without such a child it always applies.
    """

    limit_ms: int
    sorts: frozenset[int]
    applies: int | None


@dataclass(frozen=True, slots=True)
class Limits:
    """A table. Children: one pulse for each of the ``sorts`` of sign, then levels that tell whether rows apply."""

    rows: tuple[Row, ...]
    longest_ms: int
    sorts: int

    @property
    def shortest_ms(self) -> int:
        """Return the shortest limit that a sign may have."""
        return min([self.longest_ms, *(row.limit_ms for row in self.rows)])

    def of_sort(self, sort: int) -> list[Row]:
        """Return the rows for a sort of sign: those up to the first that always applies."""
        rows: list[Row] = []
        for row in self.rows:
            if sort in row.sorts:
                rows.append(row)
                if row.applies is None:
                    break
        return rows


def limit_of(rows: Sequence[Row], longest_ms: int, applies: Sequence[int]) -> int:
    """Return the limit of a sign from the value, at its instant, of the level by which each row applies."""
    limit = longest_ms
    for row, value in zip(reversed(rows), reversed(applies), strict=True):
        if value == TRUE:
            limit = row.limit_ms
        elif value == UNKNOWN:
            limit = min(limit, row.limit_ms)
    return limit


def limits_at(operator: Limits, sort: int, conditions: Sequence[Steps], times: Times) -> Times:
    """Return the limit that a sign of a sort would have at each of the times.

    ``conditions`` are the columns of the children that come after the pulses.
    """
    rows = operator.of_sort(sort)
    read = sorted({row.applies for row in rows if row.applies is not None})
    if not read:
        return np.full(len(times), limit_of(rows, operator.longest_ms, [TRUE] * len(rows)), np.int64)
    columns = {child: conditions[child - operator.sorts] for child in read}
    many = len(times) > sum(len(column.times) for column in columns.values())
    edges = merged_times(list(columns.values())) if many else times
    values = {child: at(column, edges) for child, column in columns.items()}
    limits = np.full(len(edges), operator.longest_ms, np.int64)
    for row in reversed(rows):
        if row.applies is None:
            limits[:] = row.limit_ms
            continue
        told = values[row.applies]
        doubtful = np.where(told == UNKNOWN, np.minimum(limits, row.limit_ms), limits)
        limits = np.where(told == TRUE, row.limit_ms, doubtful)
    found: Times = limits[np.searchsorted(edges, times, "right") - 1] if many else limits
    return found


def column(operator: Limits, axis: Axis, sorts: Sequence[Pulses], conditions: Sequence[Steps]) -> Steps:
    """Return the level; only the few signs that a long enough silence follows are looked at."""
    longest = operator.longest_ms
    columns = [sort.times for sort in sorts if len(sort.times)]
    heard = _next(axis, columns, axis.starts, "left")
    late = heard > axis.starts + longest
    within = heard < axis.ends
    signs = _ends([_before_long(times, operator.shortest_ms) for times in columns])
    following = _next(axis, columns, signs, "right")
    long = following - signs > operator.shortest_ms
    long[-1:] = True
    signs, following = signs[long], following[long]
    limit = np.full(len(signs), longest, np.int64)
    for sort, pulses in enumerate(sorts):
        here = np.flatnonzero(_among(signs, pulses.times))
        limit[here] = np.minimum(limit[here], limits_at(operator, sort, conditions, signs[here]))
    over = following - signs > limit
    over[-1:] = True
    signs, following, limit = signs[over], following[over], limit[over]
    same_lane = following < axis.end_of(signs)
    changes = [
        (axis.starts[late] + longest, np.int8(TRUE)),
        (heard[within], np.int8(FALSE)),
        (signs + limit, np.int8(TRUE)),
        (following[same_lane], np.int8(FALSE)),
    ]
    return steps_from(axis, changes, np.int8(UNKNOWN))


def _before_long(times: Times, shortest: int) -> Times:
    """Return the signs after which the same sort stays away for longer, the last among them."""
    return np.append(times[:-1][times[1:] - times[:-1] > shortest], times[-1])


def _ends(columns: Sequence[Times]) -> Times:
    return np.unique(np.concatenate(columns)) if columns else np.empty(0, np.int64)


def _next(axis: Axis, columns: Sequence[Times], after: Times, side: Literal["left", "right"]) -> Times:
    """Return the first sign of any sort after each of the instants, or at it too; the end of the axis where none is."""
    found = np.full(len(after), axis.ends[-1], np.int64)
    for times in columns:
        place = np.searchsorted(times, after, side)
        some = place < len(times)
        found[some] = np.minimum(found[some], times[place[some]])
    return found


def _among(times: Times, those: Times) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    if not len(those):
        return np.zeros(len(times), bool)
    place = np.minimum(np.searchsorted(those, times), len(those) - 1)
    return np.asarray(those[place] == times)


class LimitsCell:
    """Remembers the last sign, its limit, and which signals gave it; one timer at a time.

    ``givers`` are, for each sort, the cells of the signals that it joins.
    """

    __slots__ = (
        "below",
        "due",
        "fired",
        "givers",
        "index",
        "last",
        "limit",
        "longest",
        "rows",
        "seen",
        "sorts",
        "timers",
        "value",
    )

    def __init__(
        self, operator: Limits, below: Sequence[Cell], givers: Sequence[Sequence[Cell]], index: int, timers: Timers
    ) -> None:
        self.sorts = tuple(below[: operator.sorts])
        self.rows = tuple(operator.of_sort(sort) for sort in range(operator.sorts))
        self.longest = operator.longest_ms
        self.below = tuple(below)
        self.givers = tuple(tuple(one) for one in givers)
        self.index = index
        self.timers = timers
        self.value = UNKNOWN
        self.fired = NEVER
        self.last = NEVER
        self.limit = self.longest
        self.seen: list[list[int]] = []
        self.due = NEVER

    def start(self, now: int) -> None:
        self.value, self.last, self.limit, self.seen = UNKNOWN, now, self.longest, []
        self.due = now + self.limit
        self.timers.wake(self.due, self.index)

    def update(self, now: int) -> bool:
        before = self.value
        given = [number for number, sort in enumerate(self.sorts) if sort.fired == now]
        if given:
            self.last = now
            self.limit = min(self._limit(sort) for sort in given)
            self.seen = [
                [sort, place] for sort in given for place, one in enumerate(self.givers[sort]) if one.fired == now
            ]
            self.value = FALSE
            self._wake(now)
        elif self.last + self.limit <= now:
            self.value = TRUE
        else:
            self._wake(now)
        return self.value != before

    def _limit(self, sort: int) -> int:
        rows = self.rows[sort]
        applies = [TRUE if row.applies is None else self.below[row.applies].value for row in rows]
        return limit_of(rows, self.longest, applies)

    def _wake(self, now: int) -> None:
        due = self.last + self.limit
        if self.due <= now or due < self.due:
            self.due = due
            self.timers.wake(due, self.index)

    def dump(self) -> list[Any]:
        return [self.value, self.last, self.limit, self.due, self.seen]

    def load(self, memory: Sequence[Any]) -> None:
        self.value, self.last, self.limit, self.due, seen = memory
        self.seen = [list(one) for one in seen]
        self.timers.wake(self.due, self.index)
