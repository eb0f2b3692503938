"""A store in PostgreSQL. Each home has a schema of its own: ``postgresql://host/database#mill_lane``."""

import re
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Final

from stillwell.problem import refuse
from stillwell.store.database import BUSY, Params, StoreTrouble, queries

if TYPE_CHECKING:
    import psycopg

_PLACE: Final = re.compile(r"(?<!:):(\w+)")
_SCHEMA: Final = re.compile(r"[a-z][a-z0-9_]{0,50}")
_OWNER_LOCK: Final = 0x5711


class Postgres:
    """A connection that is made again when it was lost; only the owner may write events and state.

    ``look``: nothing can be written.
    """

    def __init__(self, url: str, *, owner: bool, look: bool = False) -> None:
        try:
            import psycopg  # noqa: PLC0415 - an extra
        except ImportError as error:
            raise refuse("PostgreSQL needs a further package", "pip install 'stillwell[postgres]'") from error
        self._psycopg = psycopg
        self._url, _, schema = url.partition("#")
        self._schema = schema or "stillwell"
        if not _SCHEMA.fullmatch(self._schema):
            raise refuse(
                f'"{self._schema}" cannot be the name of a home in the database', "Use small letters, digits and _."
            )
        self._owner = owner
        self._look = look
        self._queries = {name: _PLACE.sub(r"%(\1)s", sql) for name, sql in queries().items()}
        self._connection: psycopg.Connection[tuple[Any, ...]] | None = None
        try:
            self._there()
        except StoreTrouble as error:
            raise refuse(f"this store cannot be opened: {error}", "Check the address.") from error

    def rows(self, query: str, params: Params | None = None) -> list[tuple[Any, ...]]:
        with self._told():
            return self._there().execute(self._queries[query].encode(), params).fetchall()

    def change(self, query: str, params: Sequence[Params]) -> int:
        with self._told(), self._there().cursor() as cursor:
            cursor.executemany(self._queries[query].encode(), params)
            return cursor.rowcount

    @contextmanager
    def transaction(self) -> Iterator[None]:
        with self._told(), self._there().transaction():
            yield

    def script(self, statements: Iterable[str]) -> None:
        with self._told():
            for statement in statements:
                self._there().execute(_as_postgres(statement).encode())

    def has_version(self) -> bool:
        with self._told():
            if self._look:
                row = self._there().execute(b"SELECT to_regclass('version') IS NOT NULL").fetchone()
                return bool(row and row[0])
            self._there().execute(b"CREATE TABLE IF NOT EXISTS version (number BIGINT NOT NULL)")
            return bool(self.rows("tables_there")[0][0])

    def erase_traces(self, *, shrink: bool) -> None:
        """Deleted rows go out of the tables; the server's own log keeps them until it is recycled or archived."""
        how = "VACUUM FULL" if shrink else "VACUUM"
        with self._told():
            for table in ("event", "fact", "outbox", "command", "answer", "unread"):
                self._there().execute(f"{how} {table}".encode())

    def close(self) -> None:
        if self._connection is not None:
            self._connection.close()

    def _there(self) -> "psycopg.Connection[tuple[Any, ...]]":
        if self._connection is None or self._connection.closed:
            self._connection = self._connect()
        return self._connection

    def _connect(self) -> "psycopg.Connection[tuple[Any, ...]]":
        with self._told():
            connection = self._psycopg.connect(self._url, autocommit=True, connect_timeout=5)
            schema = self._schema.encode()
            connection.execute(b"SET client_min_messages = warning")
            if self._look:
                connection.execute(b"SET default_transaction_read_only = on")
            else:
                connection.execute(b"CREATE SCHEMA IF NOT EXISTS " + schema)
            connection.execute(b"SET search_path = " + schema)
            connection.execute(b"SET synchronous_commit = on")
        if self._owner:
            try:  # the server may take a moment to notice that a former owner is gone
                connection.execute(b"SET lock_timeout = '5s'")
                connection.execute(b"SELECT pg_advisory_lock(%s, hashtext(%s))", (_OWNER_LOCK, self._schema))
            except self._psycopg.Error as error:
                connection.close()
                raise StoreTrouble(BUSY) from error
            connection.execute(b"SET lock_timeout = 0")
        return connection

    @contextmanager
    def _told(self) -> Iterator[None]:
        """Say in one way that the database cannot."""
        try:
            yield
        except self._psycopg.Error as error:
            full = isinstance(error, self._psycopg.errors.DiskFull)
            unfit = isinstance(error, self._psycopg.DataError | self._psycopg.IntegrityError)
            raise StoreTrouble(str(error).strip() or type(error).__name__, full=full, unfit=unfit) from error


def _as_postgres(statement: str) -> str:
    """Migrations are written for SQLite: its whole numbers are 64 bits wide, its tables strict when told to."""
    wide = re.sub(r"\bINTEGER\b", "BIGINT", statement)
    return re.sub(r"\bREAL\b", "DOUBLE PRECISION", wide).removesuffix(" STRICT")
