"""What is still to be sent, as the store has it, held in memory so that it goes out even while the store cannot."""

import asyncio
from collections.abc import Callable, Iterable
from typing import Generic, TypeVar

from stillwell.store.rows import CommandRow, MessageRow

R = TypeVar("R", MessageRow, CommandRow)


class Outgoing(Generic[R]):
    """Open messages or commands by key. ``changed`` is set when one was added or marked: clear it and look again."""

    def __init__(self, keep: Callable[[R], None]) -> None:
        self._open: dict[str, R] = {}
        self._keep: Callable[[R], None] = keep
        self.changed = asyncio.Event()

    def __len__(self) -> int:
        return len(self._open)

    def add(self, rows: Iterable[R]) -> None:
        """Take rows that are in the store now (or would be, if it could); those that ended are of no interest."""
        for row in rows:
            if row.ended_ms is None:
                self._open.setdefault(row.key, row)
                self.changed.set()

    def due(self, now_ms: int) -> list[R]:
        """Return what is to be tried now, the oldest first."""
        due = [row for row in self._open.values() if row.next_try_ms <= now_ms]
        return sorted(due, key=lambda row: row.at_ms)

    def all(self) -> list[R]:
        """Return everything that is open."""
        return list(self._open.values())

    def next_ms(self) -> int | None:
        """Return when something is to be tried next; None: nothing is open."""
        return min((row.next_try_ms for row in self._open.values()), default=None)

    def mark(self, row: R) -> None:
        """Note how one stands now: tried again later, or ended. It reaches the store with the next write."""
        if row.key not in self._open:
            return
        if row.ended_ms is None:
            self._open[row.key] = row
        else:
            del self._open[row.key]
        self._keep(row)
        self.changed.set()
