"""Instants and stretches of time to places on a sheet of local days: one row a day, 24 hours across."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np

from stillwell.civiltime import Span, transitions
from stillwell.record.columns import Column, Pulses, Times

DAY_MS: Final = 86_400_000
HOUR_MS: Final = 3_600_000
CELL_MS: Final = 300_000


@dataclass(frozen=True, slots=True)
class Sheet:
    """The local days of a span: ``first_day`` in days since 1970, ``days`` how many rows there are."""

    zone: ZoneInfo
    span: Span
    first_day: int
    days: int


@dataclass(frozen=True, slots=True)
class Strip:
    """A stretch of one row: from hour ``left`` to hour ``right`` of the day; ``weight`` is how much is there."""

    row: int
    left: float
    right: float
    weight: int = 0


def sheet_of(zone: ZoneInfo, span: Span) -> Sheet:
    """Return the sheet that holds a span."""
    first, last = (local_times(zone, span, np.array([span[0], span[1] - 1])) // DAY_MS).tolist()
    return Sheet(zone, span, first, last - first + 1)


def local_times(zone: ZoneInfo, span: Span, times: Times) -> Times:
    """Return what the clock on the wall shows, in ms since 1970 of its own count, at instants within a span."""
    pieces = transitions(zone, span)
    starts, offsets = (np.array(column, np.int64) for column in zip(*pieces, strict=True))
    index = np.clip(np.searchsorted(starts, times, "right") - 1, 0, None)
    local: Times = times + offsets[index]
    return local


def place(sheet: Sheet, at_ms: int) -> tuple[int, float]:
    """Return row and hour of an instant."""
    local = int(local_times(sheet.zone, sheet.span, np.array([at_ms], np.int64))[0])
    return local // DAY_MS - sheet.first_day, local % DAY_MS / HOUR_MS


def ink(sheet: Sheet, times: Times, levels: Sequence[int], cell_ms: int = CELL_MS) -> list[Strip]:
    """Count instants in cells of so long a day; neighbouring cells of one weight become one strip.

    ``levels`` are the least counts of each weight, rising from 1; a strip's weight is the number of its level,
    from 0. The two passes of a repeated hour fall into the same cells; a skipped hour stays blank.
    """
    if not len(times):
        return []
    local = local_times(sheet.zone, sheet.span, times)
    cells, counts = np.unique(local // cell_ms, return_counts=True)
    cells_a_day = DAY_MS // cell_ms
    weights = np.searchsorted(np.array(levels), counts, "right") - 1
    begins = np.ones(len(cells), np.bool_)
    begins[1:] = (cells[1:] != cells[:-1] + 1) | (weights[1:] != weights[:-1]) | (cells[1:] % cells_a_day == 0)
    first = np.flatnonzero(begins)
    last = np.append(first[1:], len(cells)) - 1
    rows = cells[first] // cells_a_day - sheet.first_day
    hours = cell_ms / HOUR_MS
    lefts = cells[first] % cells_a_day * hours
    rights = (cells[last] % cells_a_day + 1) * hours
    found = zip(rows.tolist(), lefts.tolist(), rights.tolist(), weights[first].tolist(), strict=True)
    return [Strip(*each) for each in found]


def strips(sheet: Sheet, start_ms: int, end_ms: int) -> Iterator[Strip]:
    """Cut a stretch of time at local midnights and where the clocks change."""
    pieces = transitions(sheet.zone, (start_ms, end_ms)) if start_ms < end_ms else []
    for index, (since, offset) in enumerate(pieces):
        until = pieces[index + 1][0] if index + 1 < len(pieces) else end_ms
        left, right = since + offset, until + offset
        while left < right:
            midnight = (left // DAY_MS + 1) * DAY_MS
            stop = min(midnight, right)
            start_of_day = midnight - DAY_MS
            yield Strip(
                left // DAY_MS - sheet.first_day, (left - start_of_day) / HOUR_MS, (stop - start_of_day) / HOUR_MS
            )
            left = stop


def change_times(signals: Mapping[str, Column], names: Sequence[str]) -> Times:
    """Return when pulses came and levels changed, sorted; a level that repeats itself says nothing new."""
    found = [np.empty(0, np.int64)]
    for name in names:
        column = signals[name]
        if isinstance(column, Pulses):
            found.append(column.times)
        else:
            changed = np.append(np.True_, column.values[1:] != column.values[:-1])
            found.append(column.times[changed])
    times = np.concatenate(found)
    times.sort()
    return times
