"""Used rows to columns: one pass of sorting for all signals."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillwell.record.columns import FALSE, TRUE, Column, Numbers, Pulses, Steps, Times
from stillwell.record.matching import Outcome


@dataclass(frozen=True, slots=True)
class UsedRows:
    """Rows at their instants, in the order of the log: what each reports (a code) and the number of a number.

    Where rows are stretches of time ``ends`` holds their ends, below 0 where the log gives none.
    """

    times: Times
    codes: NDArray[np.int32]
    numbers: Numbers
    ends: Times | None


@dataclass(frozen=True, slots=True)
class _Reports:
    """Reports of all signals; ``change`` is +1 where a stretch of a level begins, -1 where it ends, else 0."""

    times: Times
    signals: NDArray[np.int32]
    values: Numbers
    change: NDArray[np.int8]
    order: NDArray[np.int64]


def columns_of(rows: UsedRows, outcomes: Sequence[Outcome]) -> tuple[dict[str, Column], int]:
    """Return the columns by name of signal, and how many reports fell together with another of their signal.

    Of two reports of a level or number within one millisecond the later row's stands.
    """
    names = sorted({name for outcome in outcomes for name in (outcome.signal, outcome.at_end) if name})
    kinds = {outcome.signal: outcome.kind for outcome in outcomes}
    reports = _reports(rows, outcomes, names)
    order = np.lexsort((reports.order, reports.times, reports.signals))
    times, values, change = reports.times[order], reports.values[order], reports.change[order]
    edges = np.searchsorted(reports.signals[order], np.arange(len(names) + 1))
    columns: dict[str, Column] = {}
    merged = 0
    for name, start, end in zip(names, edges[:-1].tolist(), edges[1:].tolist(), strict=True):
        if start == end:
            continue
        part = slice(start, end)
        last = np.append(times[part][1:] != times[part][:-1], np.True_)
        merged += int((~last).sum())
        kept = times[part][last]
        match kinds.get(name, "pulse"):
            case "pulse":
                columns[name] = Pulses(kept)
            case "level":
                columns[name] = Steps(kept, _levels(values[part], change[part])[last])
            case _:
                columns[name] = Steps(kept, values[part][last])
    return columns, merged


def _reports(rows: UsedRows, outcomes: Sequence[Outcome], names: Sequence[str]) -> _Reports:
    number_of = {name: number for number, name in enumerate(names)}
    signal_of = np.array([number_of[outcome.signal] for outcome in outcomes], np.int32)
    end_signal_of = np.array([number_of.get(outcome.at_end or "", -1) for outcome in outcomes], np.int32)
    level_of = np.array([outcome.level for outcome in outcomes], np.float64)
    is_number = np.array([outcome.kind == "number" for outcome in outcomes])
    is_stretch = np.array([outcome.kind == "level" and outcome.level == TRUE for outcome in outcomes])

    row = np.arange(len(rows.times), dtype=np.int64) * 2
    values = np.where(is_number[rows.codes], rows.numbers, level_of[rows.codes])
    begins = _Reports(rows.times, signal_of[rows.codes], values, np.zeros(len(row), np.int8), row)
    if rows.ends is None:
        return begins
    begins.change[is_stretch[rows.codes]] = 1
    groups = [begins]
    stretch = np.flatnonzero(is_stretch[rows.codes] & (rows.ends >= 0))
    pulse = np.flatnonzero((end_signal_of[rows.codes] >= 0) & (rows.ends >= 0))
    for found, signals, step in ((stretch, signal_of, -1), (pulse, end_signal_of, 0)):
        groups.append(
            _Reports(
                rows.ends[found],
                signals[rows.codes[found]],
                np.full(len(found), FALSE, np.float64),
                np.full(len(found), step, np.int8),
                row[found] + 1,
            )
        )
    return _Reports(
        np.concatenate([group.times for group in groups]),
        np.concatenate([group.signals for group in groups]),
        np.concatenate([group.values for group in groups]),
        np.concatenate([group.change for group in groups]),
        np.concatenate([group.order for group in groups]),
    )


def _levels(values: Numbers, change: NDArray[np.int8]) -> NDArray[np.int8]:
    """Levels as reported; where stretches overlap, true until the last of them ends."""
    levels = values.astype(np.int8)
    if change.any():
        open_stretches = np.cumsum(change, dtype=np.int64)
        of_stretch = change != 0
        levels[of_stretch] = np.where(open_stretches[of_stretch] > 0, TRUE, FALSE)
    return levels
