"""What a keeper must not forget, in one SQLite file: the state of each home, letters to send, what was refused.

Whatever is written in one go is there whole after a crash, or not at all (WAL, synchronous = FULL). Only one keeper
can have the file open.
"""

import json
import secrets
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import astuple, dataclass, fields
from pathlib import Path
from typing import Any, Final

from stillwell.keeper import dark
from stillwell.keeper.dark import Fact, Seen
from stillwell.problem import refuse

VERSION: Final = 1
KEPT_MS: Final = 400 * 86_400_000
"""Facts and letters that ended are kept for so long."""

_SCHEMA: Final = """
CREATE TABLE IF NOT EXISTS home (name TEXT PRIMARY KEY, key_mark TEXT NOT NULL, state TEXT NOT NULL) STRICT;
CREATE TABLE IF NOT EXISTS letter (
    key TEXT PRIMARY KEY, home TEXT NOT NULL, person TEXT NOT NULL, channel TEXT NOT NULL,
    asked_at_ms INTEGER NOT NULL, at_ms INTEGER NOT NULL, subject TEXT NOT NULL, text TEXT NOT NULL,
    attempts INTEGER NOT NULL, next_try_ms INTEGER NOT NULL, sent_ms INTEGER, ended_ms INTEGER, why TEXT NOT NULL
) STRICT;
CREATE INDEX IF NOT EXISTS letter_open ON letter (at_ms) WHERE ended_ms IS NULL;
CREATE TABLE IF NOT EXISTS fact (
    number INTEGER PRIMARY KEY, home TEXT NOT NULL, at_ms INTEGER NOT NULL, what TEXT NOT NULL, by TEXT NOT NULL
) STRICT;
CREATE TABLE IF NOT EXISTS refused (
    home TEXT NOT NULL, reason TEXT NOT NULL, times INTEGER NOT NULL, last_ms INTEGER NOT NULL,
    PRIMARY KEY (home, reason)
) STRICT;
CREATE TABLE IF NOT EXISTS own (name TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT;
"""


class Trouble(Exception):  # noqa: N818 - the disk's, not ours
    """The file cannot be written at present."""


@dataclass(frozen=True, slots=True)
class Letter:
    """A message to a person. It is open until ``ended_ms``: sent, or no longer worth sending for the reason ``why``."""

    key: str
    home: str
    person: str
    channel: str
    asked_at_ms: int
    at_ms: int
    subject: str
    text: str
    attempts: int = 0
    next_try_ms: int = 0
    sent_ms: int | None = None
    ended_ms: int | None = None
    why: str = ""


@dataclass(frozen=True, slots=True)
class Refused:
    """How often something was refused in the name of a home ("" for none that is known), and when last."""

    home: str
    reason: str
    times: int
    last_ms: int


@dataclass(frozen=True, slots=True)
class Write:
    """What is written in one go. ``states``: home, the mark of its key, its state; ``facts``: home and fact.

    ``now_ms``: up to when time has passed for every home.
    """

    now_ms: int
    states: Sequence[tuple[str, str, Seen]] = ()
    letters: Sequence[Letter] = ()
    facts: Sequence[tuple[str, Fact]] = ()
    refused: Sequence[Refused] = ()


_LETTER: Final = [field.name for field in fields(Letter)]


class Memory:
    """Used by one thread at a time."""

    def __init__(self, path: Path) -> None:
        """Open the file; raises Refusal where that cannot be."""
        self._path = path
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.touch(mode=0o600)
            self._database = sqlite3.connect(path, isolation_level=None, timeout=1)
            self._database.execute("PRAGMA locking_mode = EXCLUSIVE")
            self._database.execute("PRAGMA journal_mode = WAL")
            self._database.execute("PRAGMA synchronous = FULL")
            self._database.execute("PRAGMA secure_delete = ON")
            self._database.execute("BEGIN IMMEDIATE")
            self._database.execute("COMMIT")
            version = self._database.execute("PRAGMA user_version").fetchone()[0]
        except (sqlite3.Error, OSError) as error:
            busy = "locked" in str(error)
            what = "another keeper has this store open" if busy else f"this store cannot be opened: {error}"
            remedy = "End that one first." if busy else "Name another file."
            raise refuse(what, remedy, file=str(path)) from error
        if version > VERSION:
            self._database.close()
            raise refuse("this store was written by a newer version", "Bring the program up to date.", file=str(path))
        self._database.executescript(f"{_SCHEMA} PRAGMA user_version = {VERSION};")

    def close(self) -> None:
        """Let go of the file."""
        self._database.close()

    def write(self, what: Write) -> None:
        """Write all of it; when this returns it is on the disk. Raises Trouble where it cannot be written now."""
        marks = ", ".join(f":{name}" for name in _LETTER)
        with self._transaction():
            self._many(
                "INSERT OR REPLACE INTO home VALUES (?, ?, ?)",
                [(home, mark, json.dumps(dark.to_json(state))) for home, mark, state in what.states],
            )
            self._many(
                f"INSERT OR REPLACE INTO letter ({', '.join(_LETTER)}) VALUES ({marks})",  # noqa: S608 - our own names
                [dict(zip(_LETTER, astuple(letter), strict=True)) for letter in what.letters],
            )
            self._many(
                "INSERT INTO fact (home, at_ms, what, by) VALUES (?, ?, ?, ?)",
                [(home, *fact) for home, fact in what.facts],
            )
            self._many("INSERT OR REPLACE INTO own VALUES ('now', ?)", [(str(what.now_ms),)])
            self._many("INSERT OR REPLACE INTO refused VALUES (?, ?, ?, ?)", [astuple(one) for one in what.refused])

    def tidy(self, now_ms: int) -> None:
        """Drop what is older than ``KEPT_MS``."""
        before = (now_ms - KEPT_MS,)
        with self._transaction():
            self._database.execute("DELETE FROM fact WHERE at_ms < ?", before)
            self._database.execute("DELETE FROM letter WHERE ended_ms < ?", before)

    def states(self) -> dict[str, tuple[str, Seen]]:
        """Return the mark of the key and the state of every home that was ever watched."""
        found = {}
        for name, mark, state in self._rows("SELECT name, key_mark, state FROM home"):
            try:
                found[name] = mark, dark.from_json(json.loads(state))
            except ValueError as error:
                what = f"the state of {name} in this store cannot be read: {error}"
                raise refuse(what, "Begin with a new store.", file=str(self._path)) from error
        return found

    def now_ms(self) -> int:
        """Return up to when time had passed at the last write; 0 before the first."""
        rows = self._rows("SELECT value FROM own WHERE name = 'now'")
        return int(rows[0][0]) if rows else 0

    def open_letters(self) -> list[Letter]:
        """Return the letters that are still to be sent, the oldest first."""
        query = f"SELECT {', '.join(_LETTER)} FROM letter WHERE ended_ms IS NULL ORDER BY at_ms, rowid"  # noqa: S608
        return [Letter(*row) for row in self._rows(query)]

    def told(self, home: str, asked_at_ms: int) -> list[str]:
        """Return who was told in one asking, in order."""
        query = "SELECT person FROM letter WHERE home = ? AND asked_at_ms = ? AND sent_ms IS NOT NULL ORDER BY sent_ms"
        return list(dict.fromkeys(person for (person,) in self._rows(query, (home, asked_at_ms))))

    def last_facts(self, home: str, most: int = 5) -> list[Fact]:
        """Return what happened to a home last, the newest first."""
        query = "SELECT at_ms, what, by FROM fact WHERE home = ? ORDER BY number DESC LIMIT ?"
        return [Fact(*row) for row in self._rows(query, (home, most))]

    def refused(self) -> list[Refused]:
        """Return how often what was refused."""
        return [Refused(*row) for row in self._rows("SELECT home, reason, times, last_ms FROM refused")]

    def secret(self) -> bytes:
        """Return the key that signs the links of this keeper; made when it is first asked for."""
        with self._transaction():
            self._database.execute("INSERT OR IGNORE INTO own VALUES ('link key', ?)", (secrets.token_hex(32),))
        ((value,),) = self._rows("SELECT value FROM own WHERE name = 'link key'")
        return bytes.fromhex(value)

    def _rows(self, query: str, params: tuple[object, ...] = ()) -> list[tuple[Any, ...]]:
        try:
            return self._database.execute(query, params).fetchall()
        except sqlite3.Error as error:
            raise Trouble(str(error)) from error

    def _many(self, query: str, rows: Iterable[tuple[Any, ...] | dict[str, Any]]) -> None:
        self._database.executemany(query, rows)

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        try:
            self._database.execute("BEGIN IMMEDIATE")
            yield
            self._database.execute("COMMIT")
        except sqlite3.Error as error:
            with suppress(sqlite3.Error):  # a full disk has ended it already
                self._database.execute("ROLLBACK")
            raise Trouble(str(error)) from error
