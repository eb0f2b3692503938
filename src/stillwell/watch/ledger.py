"""Writing to the store in a thread of its own, in order. What cannot be written is kept and tried again.

While the store cannot (a full disk, a database that is away) the watch goes on from memory: nothing waits for it.
"""

import asyncio
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import Any, Final, TypeVar

from stillwell.store.database import StoreTrouble
from stillwell.store.rows import AnswerRow, CommandMark, CommandRow, Entry, EventRow, MessageMark, MessageRow, StateRow
from stillwell.store.store import Store

T = TypeVar("T")

MOST_KEPT: Final = 200_000
"""Entries held in memory; beyond, the oldest reports are let go, for the state knows what followed from them."""


class Ledger:
    """The one way to the store. ``trouble``: why it cannot at present; ``lost``: entries that had to be let go."""

    def __init__(self, store: Store, retry_s: float = 5.0, most_kept: int = MOST_KEPT) -> None:
        self.store = store
        self.trouble: StoreTrouble | None = None
        self.lost = 0
        self._retry_s = retry_s
        self._most_kept = most_kept
        self._retry_at = 0.0
        self._kept: list[Entry] = []
        self._thread = ThreadPoolExecutor(1, "store")

    @property
    def kept(self) -> int:
        """How many entries wait to be written."""
        return len(self._kept)

    def kept_answers(self, token: str) -> list[AnswerRow]:
        """Return the answers with this token that wait to be written."""
        return [entry for entry in self._kept if isinstance(entry, AnswerRow) and entry.token == token]

    def retry_in_s(self) -> float | None:
        """Return how long until the next try; None where nothing waits."""
        if not self._kept:
            return None
        return max(0.0, self._retry_at - asyncio.get_running_loop().time())

    async def write(self, entries: Sequence[Entry]) -> bool:
        """Write what was kept and these; tell whether all is on the disk."""
        self._kept.extend(entries)
        if not self._kept:
            return True
        now = asyncio.get_running_loop().time()
        if self.trouble is not None and now < self._retry_at:
            self._tidy()
            return False
        try:
            await self._write_kept()
        except StoreTrouble as trouble:
            self.trouble, self._retry_at = trouble, now + self._retry_s
            self._tidy()
            return False
        self.trouble = None
        return True

    async def ask(self, question: Callable[..., T], *args: Any) -> T:
        """Ask the store something in its own thread. Raises StoreTrouble."""
        return await self._in_thread(question, *args)

    async def _in_thread(self, do: Callable[..., T], *args: Any) -> T:
        return await asyncio.get_running_loop().run_in_executor(self._thread, do, *args)

    async def _write_kept(self) -> None:
        """Write all in one go. One entry that no database takes must not keep out all others: it is found by halves."""
        pieces = [self._kept]
        while pieces:
            piece = pieces.pop()
            try:
                await self._in_thread(self.store.write, piece)
            except Exception as error:
                if isinstance(error, StoreTrouble) and not error.unfit:
                    self._kept = [entry for left in (piece, *reversed(pieces)) for entry in left]
                    raise
                half = len(piece) // 2
                pieces += [piece[half:], piece[:half]] if half else []
                self.lost += not half
        self._kept = []

    def _tidy(self) -> None:
        """Keep only the newest state and the newest standing of each message and command."""
        if len(self._kept) < 1000:
            return
        newest: dict[Any, int] = {_what(entry): number for number, entry in enumerate(self._kept)}
        kept = [entry for number, entry in enumerate(self._kept) if newest[_what(entry)] == number]
        over = len(kept) - self._most_kept
        if over > 0:
            events = [number for number, entry in enumerate(kept) if isinstance(entry, EventRow)][:over]
            self.lost += len(events)
            gone = set(events)
            kept = [entry for number, entry in enumerate(kept) if number not in gone]
        self._kept = kept

    def close(self) -> None:
        """Wait for the thread and let go of the store."""
        self._thread.submit(self.store.close)
        self._thread.shutdown(wait=True)


def _what(entry: Entry) -> Any:
    """What a later entry replaces."""
    match entry:
        case StateRow():
            return StateRow
        case MessageMark(row) | CommandMark(row):
            return type(entry), row.key
        case MessageRow() | CommandRow():
            return type(entry), entry.key
        case _:
            return id(entry)
