"""A store in one file. Each transaction is on the disk when it ends (WAL, synchronous = FULL)."""

import fcntl
import os
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, Final

from stillwell.problem import refuse
from stillwell.store.database import BUSY, Params, StoreTrouble, queries

_NO_ROOM: Final = frozenset({sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR})


class Sqlite:
    """A file. ``owner``: the one process that may write events and state."""

    def __init__(self, path: Path, *, owner: bool) -> None:
        self._lock = _only_one(path) if owner else None
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            self._connection = sqlite3.connect(path, isolation_level=None, check_same_thread=False, timeout=5)
            if owner:
                path.chmod(0o600)  # a record of somebody's life
            self._connection.execute("PRAGMA journal_mode = WAL")
            self._connection.execute("PRAGMA synchronous = FULL")
        except (sqlite3.Error, OSError) as error:
            raise refuse(f"this store cannot be opened: {error}", "Name a file.", file=str(path)) from error
        self._queries = queries()

    def rows(self, query: str, params: Params | None = None) -> list[tuple[Any, ...]]:
        with _told():
            return self._connection.execute(self._queries[query], params or {}).fetchall()

    def change(self, query: str, params: Sequence[Params]) -> int:
        with _told():
            return self._connection.executemany(self._queries[query], params).rowcount

    @contextmanager
    def transaction(self) -> Iterator[None]:
        with _told():
            self._connection.execute("BEGIN IMMEDIATE")
        try:
            yield
            with _told():
                self._connection.execute("COMMIT")
        except BaseException:
            with suppress(sqlite3.Error):  # a full disk has ended it already
                self._connection.execute("ROLLBACK")
            raise

    def script(self, statements: Iterable[str]) -> None:
        with _told():
            for statement in statements:
                self._connection.execute(statement)

    def has_version(self) -> bool:
        with _told():
            self._connection.execute("CREATE TABLE IF NOT EXISTS version (number INTEGER NOT NULL) STRICT")
            return bool(self._connection.execute(self._queries["tables_there"]).fetchone()[0])

    def erase_traces(self) -> None:
        with _told():
            self._connection.execute("VACUUM")
            self._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")

    def close(self) -> None:
        self._connection.close()
        if self._lock is not None:
            os.close(self._lock)
            self._lock = None


@contextmanager
def _told() -> Iterator[None]:
    """Say in one way that the database cannot."""
    try:
        yield
    except sqlite3.Error as error:
        code = getattr(error, "sqlite_errorcode", None)
        full = code is not None and code & 0xFF in _NO_ROOM
        raise StoreTrouble(str(error), full=full) from error


def _only_one(path: Path) -> int:
    """Hold the store for this process; the system lets go of it when the process ends, however it ends."""
    lock = path.with_name(f"{path.name}.lock")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle = os.open(lock, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
    except OSError as error:
        raise refuse(f"this store cannot be opened: {error.strerror}", "Name a file.", file=str(path)) from error
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        os.close(handle)
        raise refuse(f"this store is in use: {BUSY}", "End the other watch first.", file=str(path)) from error
    return handle
