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
_UNFIT: Final = frozenset({sqlite3.SQLITE_CONSTRAINT, sqlite3.SQLITE_MISMATCH, sqlite3.SQLITE_TOOBIG})
PATIENCE_S: Final = 5.0
"""How long a connection waits for another that writes."""


class Sqlite:
    """A file. ``owner``: the one process that may write events and state; ``look``: nothing can be written.

    Looking waits for nobody and holds up nobody: a reader of a write-ahead log sees what was there when it began
    (sqlite.org, "Write-Ahead Logging", section 2.2).
    """

    def __init__(self, path: Path, *, owner: bool, look: bool = False) -> None:
        self._look = look
        self._lock = _only_one(path) if owner else None
        try:
            self._connection = _looking(path) if look else _writing(path, owner=owner)
        except (sqlite3.Error, OSError) as error:
            self._let_go()
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
            if self._look:
                there = "SELECT COUNT(*) FROM sqlite_schema WHERE name = 'version'"
                return bool(self._connection.execute(there).fetchone()[0])
            self._connection.execute("CREATE TABLE IF NOT EXISTS version (number INTEGER NOT NULL) STRICT")
            return bool(self._connection.execute(self._queries["tables_there"]).fetchone()[0])

    def erase_traces(self, *, shrink: bool) -> None:
        """What was deleted is overwritten in its page (secure_delete); here the log lets go of it, and the file.

        Raises StoreTrouble where somebody who reads keeps the log from being emptied. Only ``shrink`` waits for that.
        """
        with _told():
            if shrink:
                self._connection.execute("VACUUM")
            else:
                self._connection.execute("PRAGMA busy_timeout = 0")
            try:
                busy = self._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0]
            finally:
                self._connection.execute(f"PRAGMA busy_timeout = {round(1000 * PATIENCE_S)}")
        if busy:
            raise StoreTrouble("it is erased, but the log of the last changes is still being read")

    def close(self) -> None:
        self._connection.close()
        self._let_go()

    def _let_go(self) -> None:
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
        kind = None if code is None else code & 0xFF
        raise StoreTrouble(str(error), full=kind in _NO_ROOM, unfit=kind in _UNFIT) from error
    except OverflowError as error:
        raise StoreTrouble(str(error), unfit=True) from error


def _writing(path: Path, *, owner: bool) -> sqlite3.Connection:
    path.parent.mkdir(parents=True, exist_ok=True)
    # A record of somebody's life: for its owner only, and so is the log beside it, which takes the rights of the file.
    os.close(os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600))
    if owner:
        path.chmod(0o600)
    connection = sqlite3.connect(path, isolation_level=None, check_same_thread=False, timeout=PATIENCE_S)
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("PRAGMA secure_delete = ON")
    return connection


def _looking(path: Path) -> sqlite3.Connection:
    address = f"{path.absolute().as_uri()}?mode=ro"
    connection = sqlite3.connect(address, uri=True, isolation_level=None, check_same_thread=False, timeout=PATIENCE_S)
    connection.execute("PRAGMA query_only = ON")
    return connection


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
