"""Passwords, by Argon2id. Each takes 64 MiB and a while: in a thread, few at a time, no long line before the door."""

from collections.abc import Callable
from functools import partial
from typing import Final, ParamSpec, TypeVar

from anyio import CapacityLimiter, to_thread
from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

P = ParamSpec("P")
T = TypeVar("T")

SHORTEST: Final = 10
LONGEST: Final = 200
AT_ONCE: Final = 2
WAITING: Final = 8


class Busy(Exception):  # noqa: N818 - the world's, not ours
    """Too many are at the door; they may come again in a moment."""


class Passwords:
    """Makes and checks what is kept of passwords, by the second of the settings recommended in RFC 9106 section 4."""

    def __init__(self, hasher: PasswordHasher | None = None) -> None:
        self._hasher = hasher or PasswordHasher()
        self._limiter: CapacityLimiter | None = None
        self._there = 0
        self._nobodys = ""

    async def made(self, password: str) -> str:
        """Return what is kept of a password. Raises Busy."""
        return await self._apart(self._hasher.hash, password)

    async def fits(self, kept: str, password: str) -> bool:
        """Tell whether it is the password; for an account that is not there (empty) it takes as long. Raises Busy."""
        return await self._apart(self._fits, kept, password)

    def _fits(self, kept: str, password: str) -> bool:
        if not kept and not self._nobodys:
            self._nobodys = self._hasher.hash("nobody's")
        try:
            return self._hasher.verify(kept or self._nobodys, password) and bool(kept)
        except (VerificationError, InvalidHashError):
            return False

    async def _apart(self, work: Callable[P, T], *args: P.args, **named: P.kwargs) -> T:
        if self._limiter is None:
            self._limiter = CapacityLimiter(AT_ONCE)
        if self._there >= AT_ONCE + WAITING:
            raise Busy
        self._there += 1
        try:
            return await to_thread.run_sync(partial(work, *args, **named), limiter=self._limiter)
        finally:
            self._there -= 1


def unfit(password: str, name: str) -> str:
    """Say why a password will not do; empty where it will."""
    if len(password) < SHORTEST:
        return f"A password needs at least {SHORTEST} characters. Three words in a row are good."
    if len(password) > LONGEST:
        return f"That is longer than {LONGEST} characters."
    if len(set(password)) < 5 or (name and name.lower() in password.lower() and len(password) < len(name) + 6):
        return "That would be guessed too soon. Three words in a row are good."
    return ""
