"""Which signals can be believed, and when: dead, stuck and chattering ones cannot."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal, TypeAlias

import numpy as np

from stillwell.record.columns import UNKNOWN, Column, Pulses, Record, Steps, Times, kind_of
from stillwell.record.condition import Condition
from stillwell.record.parts import Replaced
from stillwell.record.presence import DAY_MS, HOUR_MS

CHATTER_PAUSE_MS: Final = HOUR_MS // 2
CHATTER_LEAST_MS: Final = DAY_MS
"""Nobody keeps one detector reporting for a whole day and night without half an hour's rest; a curtain in the draught
does. In the nine recorded homes no detector comes near it (the longest such stretch is told in docs/limits.md)."""

WEIGHTY_SILENCE_MS: Final = HOUR_MS
WEIGHTY_SHARE: Final = 0.05
ALONE_MS: Final = 600_000
"""A detector matters to limits if it ends a twentieth of the silences of an hour and more, and no other would have
ended them within ten minutes after."""

Doubt: TypeAlias = Literal["dead", "stuck", "chatters", "quiet"]


@dataclass(frozen=True, slots=True)
class Mistrusted:
    """A signal that told nothing over a stretch: its part was dead, it stood stuck, reported without a rest, or was
    silent out of its habit."""

    signal: str
    start_ms: int
    end_ms: int
    reason: Doubt


def mistrusted(record: Record, found: Condition) -> list[Mistrusted]:
    """Return what the condition of a record says against its signals, in order of time."""
    end = record.span[1]
    of: dict[str, list[str]] = {}
    for name in record.signals:
        of.setdefault(name.partition(".")[0], []).append(name)
    doubts = [Mistrusted(name, dead.since_ms, end, "dead") for dead in found.dead for name in of.get(dead.part, [])]
    doubts += [Mistrusted(stuck.signal, stuck.start_ms, stuck.end_ms, "stuck") for stuck in found.stuck]
    doubts += [
        Mistrusted(name, spell.start_ms, spell.end_ms, "quiet")
        for spell in found.quiet
        for name in of.get(spell.part, [])
    ]
    return sorted(doubts, key=lambda each: (each.start_ms, each.signal))


def chatter(record: Record, signal: str) -> list[Mistrusted]:
    """Return the stretches of a day and more in which a signal reported without half an hour's rest."""
    times = changes(record.signals[signal])
    if len(times) < CHATTER_LEAST_MS // CHATTER_PAUSE_MS:
        return []
    breaks = np.flatnonzero(np.diff(times) > CHATTER_PAUSE_MS)
    firsts, lasts = np.append(0, breaks + 1), np.append(breaks, len(times) - 1)
    end = record.span[1]
    found = []
    for first, last in zip(times[firsts].tolist(), times[lasts].tolist(), strict=True):
        if last - first >= CHATTER_LEAST_MS:
            # One that still chatters within its own pause of the end chatters to the end.
            found.append(Mistrusted(signal, first, end if end - last <= CHATTER_PAUSE_MS else last + 1, "chatters"))
    return found


def changes(column: Column) -> Times:
    """Return the instants at which a signal tells something new: every pulse, each change of a known level.

    A level that repeats itself, as supervised contacts do, tells that its part is well and nothing of the resident.
    """
    if isinstance(column, Pulses) or kind_of(column) == "number":
        return column.times
    known = column.values != UNKNOWN
    times, values = column.times[known], column.values[known]
    changed = np.append(np.False_, values[1:] != values[:-1])[: len(times)]
    found: Times = times[changed]
    return found


def life_times(record: Record, names: Collection[str]) -> Times:
    """Return the instants of the signs of life under ``names``, sorted, each once."""
    found = [changes(record.signals[name]) for name in names if name in record.signals]
    return np.unique(np.concatenate([np.empty(0, np.int64), *found]))


def weighty_parts(record: Record, life: Collection[str]) -> frozenset[str]:
    """Return the parts that end many of the long silences: without them limits would have to be longer."""
    parts = sorted({name.partition(".")[0] for name in life})
    each = [np.unique(life_times(record, [name for name in life if name.partition(".")[0] == part])) for part in parts]
    times = np.concatenate([np.empty(0, np.int64), *each])
    of = np.repeat(np.arange(len(parts)), [len(one) for one in each])
    order = np.argsort(times, kind="stable")
    times, of = times[order], of[order]
    ends = np.flatnonzero(np.diff(times) >= WEIGHTY_SILENCE_MS) + 1
    if not len(ends):
        return frozenset()
    alone = times[_next_other(of)[ends]] - times[ends] > ALONE_MS
    counts = np.bincount(of[ends[alone]], minlength=len(parts))
    enough = WEIGHTY_SHARE * len(ends)
    return frozenset(part for part, count in zip(parts, counts.tolist(), strict=True) if count >= enough)


def _next_other(of: Times) -> Times:
    """Return for each report the place of the next of another part; the last place where there is none."""
    runs_end = np.append(np.flatnonzero(np.diff(of)), len(of) - 1)
    following: Times = np.minimum(runs_end[np.searchsorted(runs_end, np.arange(len(of)))] + 1, len(of) - 1)
    return following


def joined(record: Record, replaced: Sequence[Replaced]) -> Record:
    """Return the record with the signals of a replaced part under the name of the one that replaced it."""
    new = {pair.old: pair.new for pair in replaced}
    gathered: dict[str, list[Column]] = {}
    for name, column in record.signals.items():
        part, _, word = name.partition(".")
        gathered.setdefault(f"{new.get(part, part)}.{word}", []).append(column)
    return replace(record, signals={name: _one(columns) for name, columns in gathered.items()})


def _one(columns: Sequence[Column]) -> Column:
    if len(columns) == 1:
        return columns[0]
    times = np.concatenate([column.times for column in columns])
    order = np.argsort(times, kind="stable")
    values = [column.values for column in columns if isinstance(column, Steps)]
    if len(values) < len(columns):
        return Pulses(np.unique(times))
    return Steps(times[order], np.concatenate(values)[order])  # type: ignore[arg-type]
