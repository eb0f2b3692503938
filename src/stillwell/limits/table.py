"""Learned limits as a table: which limit the last sign of life sets, by its part, the hour and the day of the week.

The rule is the same everywhere, live, in the proof and in every judgement on a record: *at each sign of life the first
row that fits that instant fixes the limit; the alarm comes when silence since then has lasted as long.* What the clock
does afterwards changes nothing, so that a person can read off the table what will happen.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from stillwell.plan.texts import EVERY_DAY
from stillwell.record.columns import Times

MINUTE_MS: Final = 60_000
DAY_MS: Final = 24 * 60 * MINUTE_MS
DAY_MINUTES: Final = 24 * 60
FIRST_WEEKDAY: Final = 3
"""The first of January 1970 was a Thursday; Monday is 0."""


@dataclass(frozen=True, slots=True)
class LimitRow:
    """How long silence may last after a sign of life from one of ``parts`` (none named: from any part).

    It holds for signs in minutes [from_minute, until_minute) of the local day, 0 to 1440, on some days of the week;
    Monday is 0.
    """

    parts: tuple[str, ...]
    from_minute: int
    until_minute: int
    days: frozenset[int]
    limit_ms: int


@dataclass(frozen=True, slots=True)
class LimitTable:
    """Rows, the first that fits counts; ``longest_ms`` where none does, and no limit is longer."""

    rows: tuple[LimitRow, ...]
    longest_ms: int

    def limits(self, parts: Sequence[str], part: NDArray[np.int64], local_ms: Times) -> Times:
        """Return the limit in ms that each sign of life sets.

        ``part`` holds indices into ``parts``; ``local_ms`` is the local time of the signs, in ms since 1970 of the
        clock on the wall.
        """
        minute = local_ms // MINUTE_MS % DAY_MINUTES
        day = weekday(local_ms)
        found = np.full(len(local_ms), self.longest_ms, np.int64)
        open_ = np.ones(len(local_ms), bool)
        for row in self.rows:
            fits = open_ & (minute >= row.from_minute) & (minute < row.until_minute)
            if row.parts:
                fits &= np.isin(part, [index for index, name in enumerate(parts) if name in row.parts])
            if row.days != EVERY_DAY:
                fits &= np.isin(day, list(row.days))
            found[fits] = min(row.limit_ms, self.longest_ms)
            open_ &= ~fits
        return found


def weekday(local_ms: Times) -> NDArray[np.int64]:
    """Return the day of the week, Monday 0, of instants on the clock on the wall."""
    day: NDArray[np.int64] = (local_ms // DAY_MS + FIRST_WEEKDAY) % 7
    return day


def rows_of(
    group: tuple[str, ...], days: frozenset[int], slots: Sequence[int], slot_minutes: int
) -> Iterator[LimitRow]:
    """Yield the rows of one group of parts, ``slots`` being its limits in ms around the clock; equal neighbours are
    one row."""
    start = 0
    for slot in range(1, len(slots) + 1):
        if slot == len(slots) or slots[slot] != slots[start]:
            yield LimitRow(group, start * slot_minutes, slot * slot_minutes, days, slots[start])
            start = slot
