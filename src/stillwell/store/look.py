"""Reading a store from many tasks at once, beside the watch that writes it: one thread, opened when first needed."""

from collections.abc import Callable
from contextlib import suppress
from threading import Lock
from typing import TypeVar

from stillwell.store.database import StoreTrouble
from stillwell.store.store import Store, look_into

T = TypeVar("T")


class Look:
    """A store to look into, by its file or address. It may come to be, vanish and come back meanwhile."""

    def __init__(self, url: str) -> None:
        self.url = url
        self._lock = Lock()
        self._store: Store | None = None

    def read(self, question: Callable[[Store], T]) -> T:
        """Ask the store something; blocks. Raises StoreTrouble, or Refusal where there is no store to open."""
        with self._lock:
            if self._store is None:
                self._store = look_into(self.url)
            try:
                return question(self._store)
            except StoreTrouble:
                self._let_go()
                raise

    def close(self) -> None:
        """Let go of the store."""
        with self._lock:
            self._let_go()

    def _let_go(self) -> None:
        store, self._store = self._store, None
        if store is not None:
            with suppress(StoreTrouble):
                store.close()
