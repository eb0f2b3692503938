"""The order of what came in: each report gets its number and the instant at which the rules take it.

Arrival counts. A report that a trusted part has stamped is taken when it was made, but never at or before an instant
that is decided. Two reports of one signal never fall together: an opening and a closing in one millisecond are two
instants, unless more came than milliseconds passed.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Final, TypeAlias

from stillwell.engine.step import Event
from stillwell.store.rows import EventRow
from stillwell.watch.payload import Report

REORDER_MS: Final = 60_000
"""How long after the fact a stamped report still counts as of its time."""

FURTHEST_AHEAD_MS: Final = 1_000
"""How far a burst may be drawn out past the time it came."""

SAME_SOURCE_MS: Final = 86_400_000
"""For how long a part does not use a sequence number again."""

MOST_RECENT: Final = 20_000

Key: TypeAlias = tuple[str, str, int]
"""What names a report whose part counts: signal, source, sequence number."""


class Recent:
    """The reports that came lately, so that one that comes twice is known."""

    def __init__(self) -> None:
        self._keys: dict[Key, None] = {}

    def __contains__(self, key: Key) -> bool:
        return key in self._keys

    def add(self, keys: Iterable[Key]) -> None:
        """Note that these are there; forget the oldest of too many."""
        self._keys.update(dict.fromkeys(keys))
        while len(self._keys) > MOST_RECENT:
            del self._keys[next(iter(self._keys))]

    def unknown(self, keys: Iterable[tuple[str, str, int, int]]) -> list[tuple[str, str, int, int]]:
        """Of (key, came at), return those to ask the store about, with since when."""
        return [(*key[:3], key[3] - SAME_SOURCE_MS) for key in keys if key[:3] not in self._keys]


@dataclass(frozen=True, slots=True)
class Arrival:
    """Reports that came together, and when."""

    at_ms: int
    reports: Sequence[Report]


def numbered(
    arrivals: Iterable[Arrival], decided_ms: int, last_seq: int, recent: Recent, signs_of_life: frozenset[str]
) -> list[EventRow]:
    """Return the rows to store, in the order in which the rules take them; reports that came before are left out.

    A sign of life that is stamped long ago is marked late: it says nothing about now. Anything else that is late
    is handed over all the same, for it may have to be told.
    """
    placed: list[tuple[int, int, Report, bool]] = []
    for arrival in arrivals:
        for report in arrival.reports:
            if report.source is not None and report.source_seq is not None:
                key = report.signal, report.source, report.source_seq
                if key in recent:
                    continue
                recent.add([key])
            stamped = report.stamped_ms
            is_late = stamped is not None and stamped < arrival.at_ms - REORDER_MS
            at_ms = arrival.at_ms if stamped is None or is_late else min(stamped, arrival.at_ms)
            late = is_late and report.signal in signs_of_life
            placed.append((max(at_ms, decided_ms + 1), arrival.at_ms, report, late))
    placed.sort(key=lambda each: each[0])
    return list(_rows(placed, last_seq))


def _rows(placed: Iterable[tuple[int, int, Report, bool]], seq: int) -> Iterator[EventRow]:
    now_ms, together = 0, set[str]()
    for at_ms, came_ms, report, late in placed:
        seq += 1
        if at_ms > now_ms:
            now_ms, together = at_ms, set()
        if report.signal in together and now_ms < came_ms + FURTHEST_AHEAD_MS:
            now_ms, together = now_ms + 1, set()
        together.add(report.signal)
        yield EventRow(
            seq, now_ms, report.signal, report.value, report.stamped_ms, report.source, report.source_seq, late
        )


def instants(rows: Iterable[EventRow]) -> Iterator[tuple[int, list[Event]]]:
    """Yield each instant with the events that the rules take in it."""
    for at_ms, group in groupby(rows, key=lambda row: row.at_ms):
        events = [(row.signal, row.value) for row in group if not row.late]
        if events:
            yield at_ms, events
