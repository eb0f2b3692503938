"""Who may look in: accounts, sessions, invitations and the trail of what people did. A file of its own.

What a browser or a link holds is never kept here, only its SHA-256 (``key_of``).
"""

import hashlib
import secrets
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from threading import RLock
from typing import Any, Final

from stillwell.problem import refuse

ROLES: Final = ("resident", "family", "responder", "fitter")

TRAIL_KEPT_MS: Final = 400 * 86_400_000
"""As long as the watch keeps what was reported, where a plan says nothing else."""


@dataclass(frozen=True, slots=True)
class Account:
    """Somebody who may sign in. ``person`` is their name under [people] of the plan, or empty."""

    name: str
    role: str
    person: str
    hash: str
    made_ms: int

    @property
    def goes_by(self) -> str:
        """The name under which the watch keeps what they do."""
        return self.person or self.name


@dataclass(frozen=True, slots=True)
class Session:
    """A browser that somebody has signed in with."""

    key: str
    account: str
    begun_ms: int
    seen_ms: int
    ends_ms: int
    address: str


@dataclass(frozen=True, slots=True)
class Invitation:
    """A link by which one account can be made, or its password set anew, once. ``name``: for this account only."""

    key: str
    role: str
    name: str
    person: str
    by_whom: str
    ends_ms: int


@dataclass(frozen=True, slots=True)
class Trace:
    """What somebody did, or tried to do, and from which address."""

    at_ms: int
    who: str
    what: str
    subject: str
    address: str


def key_of(token: str) -> str:
    """Return what is kept of a token."""
    return hashlib.sha256(token.encode("utf-8", "surrogatepass")).hexdigest()


class Accounts:
    """The file. May be used by several threads; each method is one transaction."""

    def __init__(self, path: Path) -> None:
        self._lock = RLock()
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.touch(mode=0o600)
            self._connection = sqlite3.connect(path, isolation_level=None, check_same_thread=False, timeout=5)
            path.chmod(0o600)
            self._connection.execute("PRAGMA journal_mode = WAL")
            self._connection.execute("PRAGMA synchronous = FULL")
            self._connection.execute("PRAGMA foreign_keys = ON")
            self._connection.executescript(files("stillwell.store").joinpath("accounts.sql").read_text("utf-8"))
        except (sqlite3.Error, OSError) as error:
            remedy = "Name another file with --accounts."
            raise refuse(f"the accounts cannot be opened: {error}", remedy, file=str(path)) from error

    def close(self) -> None:
        """Let go of the file."""
        self._connection.close()

    def secret(self, name: str) -> str:
        """Return a key of this file, drawn when it is first asked for."""
        with self._all_or_nothing():
            self._run("INSERT OR IGNORE INTO secret VALUES (?, ?)", name, secrets.token_hex(32))
            return str(self._rows("SELECT value FROM secret WHERE name = ?", name)[0][0])

    def there_are(self) -> bool:
        """Tell whether there is any account."""
        return bool(self._rows("SELECT EXISTS (SELECT 1 FROM account)")[0][0])

    def account(self, name: str) -> Account | None:
        """Return an account by its name."""
        rows = self._rows("SELECT * FROM account WHERE name = ?", name)
        return Account(*rows[0]) if rows else None

    def accounts(self) -> list[Account]:
        """Return all accounts by name."""
        return [Account(*row) for row in self._rows("SELECT * FROM account ORDER BY name")]

    def remove(self, name: str) -> bool:
        """Remove an account, its sessions, its invitations; not the last fitter's: nobody could invite anybody then."""
        with self._all_or_nothing():
            others = "SELECT EXISTS (SELECT 1 FROM account WHERE role = 'fitter' AND name != ?)"
            if not self._rows(others, name)[0][0]:
                return False
            self._run("DELETE FROM invitation WHERE name = ? OR by_whom = ?", name, name)
            return self._run("DELETE FROM account WHERE name = ?", name) > 0

    def set_hash(self, name: str, hashed: str) -> None:
        """Keep what a password was made into."""
        self._run("UPDATE account SET hash = ? WHERE name = ?", hashed, name)

    def begin_session(self, session: Session) -> None:
        """Keep a session; forget those that are over."""
        with self._all_or_nothing():
            self._run("DELETE FROM session WHERE ends_ms <= ?", session.begun_ms)
            self._run(
                "INSERT INTO session VALUES (?, ?, ?, ?, ?, ?)",
                session.key, session.account, session.begun_ms, session.seen_ms, session.ends_ms, session.address,
            )  # fmt: skip

    def session(self, key: str, now_ms: int) -> tuple[Session, Account] | None:
        """Return a session that is not over, and whose it is."""
        rows = self._rows(
            "SELECT session.*, account.* FROM session JOIN account ON account.name = session.account "
            "WHERE session.key = ? AND session.ends_ms > ?",
            key, now_ms,
        )  # fmt: skip
        return (Session(*rows[0][:6]), Account(*rows[0][6:])) if rows else None

    def sessions_of(self, account: str, now_ms: int) -> list[Session]:
        """Return the sessions of an account, the last seen first."""
        query = "SELECT * FROM session WHERE account = ? AND ends_ms > ? ORDER BY seen_ms DESC"
        return [Session(*row) for row in self._rows(query, account, now_ms)]

    def seen(self, key: str, now_ms: int, ends_ms: int) -> None:
        """Note that a session is in use, and when it ends if it is no more."""
        self._run("UPDATE session SET seen_ms = ?, ends_ms = ? WHERE key = ?", now_ms, ends_ms, key)

    def end_session(self, key: str) -> None:
        """End one session."""
        self._run("DELETE FROM session WHERE key = ?", key)

    def end_sessions(self, account: str, but: str = "") -> int:
        """End all sessions of an account, or all but one; return how many."""
        return self._run("DELETE FROM session WHERE account = ? AND key != ?", account, but)

    def invite(self, invitation: Invitation) -> None:
        """Keep an invitation; an earlier one for the same account, or by the same hand for a first one, is void."""
        with self._all_or_nothing():
            self._run(
                "DELETE FROM invitation WHERE name = ? AND by_whom = ? AND (name != '' OR by_whom = '')",
                invitation.name, invitation.by_whom,
            )  # fmt: skip
            self._run(
                "INSERT INTO invitation VALUES (?, ?, ?, ?, ?, ?)",
                invitation.key, invitation.role, invitation.name, invitation.person, invitation.by_whom,
                invitation.ends_ms,
            )  # fmt: skip

    def invitation(self, key: str, now_ms: int) -> Invitation | None:
        """Return an invitation that is still good."""
        rows = self._rows("SELECT * FROM invitation WHERE key = ? AND ends_ms > ?", key, now_ms)
        return Invitation(*rows[0]) if rows else None

    def accept(self, key: str, account: Account) -> bool:
        """Make the account, or set its password, and void the invitation; False where it is good no more.

        An account that is there already keeps its role and person, and all its sessions end.
        """
        with self._all_or_nothing():
            invited = self._rows("SELECT name FROM invitation WHERE key = ? AND ends_ms > ?", key, account.made_ms)
            there = self.account(account.name) is not None
            fits = bool(invited) and (invited[0][0] == account.name if there else invited[0][0] == "")
            if not fits:
                return False
            self._run("DELETE FROM invitation WHERE key = ?", key)
            self._run(
                "INSERT INTO account VALUES (?, ?, ?, ?, ?) ON CONFLICT (name) DO UPDATE SET hash = EXCLUDED.hash",
                account.name, account.role, account.person, account.hash, account.made_ms,
            )  # fmt: skip
            self._run("DELETE FROM session WHERE account = ?", account.name)
            return True

    def note(self, trace: Trace) -> None:
        """Add to the trail; what is older than it reaches is forgotten."""
        with self._all_or_nothing():
            self._run("DELETE FROM trace WHERE at_ms < ?", trace.at_ms - TRAIL_KEPT_MS)
            self._run(
                "INSERT INTO trace (at_ms, who, what, subject, address) VALUES (?, ?, ?, ?, ?)",
                trace.at_ms, trace.who, trace.what, trace.subject, trace.address,
            )  # fmt: skip

    def trail(self, most: int) -> list[Trace]:
        """Return what was done last, newest first."""
        query = "SELECT at_ms, who, what, subject, address FROM trace ORDER BY number DESC LIMIT ?"
        return [Trace(*row) for row in self._rows(query, most)]

    @contextmanager
    def _all_or_nothing(self) -> Iterator[None]:
        with self._lock:
            self._connection.execute("BEGIN IMMEDIATE")
            try:
                yield
            except BaseException:
                self._connection.execute("ROLLBACK")
                raise
            self._connection.execute("COMMIT")

    def _rows(self, query: str, *params: Any) -> list[tuple[Any, ...]]:
        with self._lock:
            return self._connection.execute(query, params).fetchall()

    def _run(self, query: str, *params: Any) -> int:
        with self._lock:
            return self._connection.execute(query, params).rowcount
