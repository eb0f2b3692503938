"""Counts of what came in and could not be used: shown, never fatal."""

from typing import Final

from stillwell.store.rows import UnreadRow
from stillwell.watch.payload import Unread

MOST_SOURCES: Final = 200
OTHERS: Final = "others"
_LONGEST: Final = 120


class Tally:
    """Counts by reason and source, since the store began; a flood of sources is counted as ``others``."""

    def __init__(self) -> None:
        self._totals: dict[tuple[str, str], UnreadRow] = {}
        self._new: dict[tuple[str, str], UnreadRow] = {}

    def known(self, rows: list[UnreadRow]) -> None:
        """Go on from what the store has counted."""
        for row in rows:
            _add(self._totals, row)

    def count(self, unread: Unread, at_ms: int) -> None:
        """Count one."""
        source = _printable(unread.source)
        if (unread.reason, source) not in self._totals and len(self._totals) >= MOST_SOURCES:
            source = OTHERS
        row = UnreadRow(unread.reason, source, 1, at_ms, at_ms)
        _add(self._totals, row)
        _add(self._new, row)

    def taken(self) -> list[UnreadRow]:
        """Return what was counted since the last call, to be stored."""
        new, self._new = self._new, {}
        return list(new.values())

    def totals(self) -> list[UnreadRow]:
        """Return all counts, the latest first."""
        return sorted(self._totals.values(), key=lambda row: -row.last_ms)


def _add(counts: dict[tuple[str, str], UnreadRow], row: UnreadRow) -> None:
    key = row.reason, row.source
    before = counts.get(key)
    counts[key] = row if before is None else UnreadRow(*key, before.times + row.times, before.first_ms, row.last_ms)


def _printable(text: str) -> str:
    return "".join(letter if letter.isprintable() else "?" for letter in text[:_LONGEST])
