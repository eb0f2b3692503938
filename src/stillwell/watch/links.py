"""Links that answer one asking of one alarm for one person, for a while, and do nothing else.

Home and purpose are not in the token but in what the key is derived from: a token of another home, or made for
another purpose, is simply none of ours.
"""

import hashlib
import json
from collections import OrderedDict
from dataclasses import dataclass
from typing import Final, Literal, TypeAlias

from itsdangerous import BadData, URLSafeSerializer

ANSWER: Final = "answer"
LIFE_MS: Final = 24 * 3_600_000
"""So long after its message a link works."""

LONGEST_TOKEN: Final = 2_000

Why: TypeAlias = Literal["forged", "expired"]


@dataclass(frozen=True, slots=True)
class Ask:
    """What a link answers: an alarm, the person who was sent it, in which asking, sent when. Milliseconds UTC."""

    alarm: str
    person: str
    asked_at_ms: int
    at_ms: int


class Links:
    """Makes and reads the tokens of one home for one purpose. ``base`` is the address that people reach us by."""

    def __init__(self, key: str, home: str, base: str = "", purpose: str = ANSWER, life_ms: int = LIFE_MS) -> None:
        salt = json.dumps(["stillwell link", purpose, home])
        options = {"key_derivation": "hmac", "digest_method": hashlib.sha256}
        self._signer = URLSafeSerializer(key, salt=salt, signer_kwargs=options)
        self._base = base.rstrip("/")
        self._life_ms = life_ms

    def link(self, ask: Ask) -> str:
        """Return the whole address; empty where people reach us by none."""
        return f"{self._base}/answer/{self.token(ask)}" if self._base else ""

    def token(self, ask: Ask) -> str:
        """Return the token: the same for the same message."""
        return self._signer.dumps([ask.alarm, ask.person, ask.asked_at_ms, ask.at_ms])

    def read(self, token: str, now_ms: int) -> Ask | Why:
        """Return what a token is for, or why it is good for nothing."""
        if len(token) > LONGEST_TOKEN:
            return "forged"
        try:
            alarm, person, asked_at_ms, at_ms = self._signer.loads(token)
        except (BadData, ValueError):
            return "forged"
        ask = Ask(alarm, person, asked_at_ms, at_ms)
        return "expired" if now_ms >= at_ms + self._life_ms else ask


def used_once(token: str, word: str) -> str:
    """Return what is kept of an answer by a link, so that it counts once: never the token itself."""
    return hashlib.sha256(f"{token} {word}".encode()).hexdigest()[:32]


class Allowance:
    """So many at once, and one more every ``every_ms``: for each name (a link, an address) by itself.

    Only the latest ``most`` names are remembered, so that a flood of names takes no memory.
    """

    def __init__(self, at_once: int, every_ms: int, most: int = 10_000) -> None:
        self._at_once = at_once
        self._every_ms = every_ms
        self._most = most
        self._free_at: OrderedDict[str, int] = OrderedDict()

    def take(self, name: str, now_ms: int) -> bool:
        """Tell whether one more is allowed, and count it if so."""
        # When all that was used is made good again; each use moves it on (GCRA, ITU-T I.371, from memory).
        free_at = max(self._free_at.pop(name, now_ms), now_ms)
        allowed = free_at + self._every_ms - now_ms <= self._at_once * self._every_ms
        self._free_at[name] = free_at + self._every_ms if allowed else free_at
        if len(self._free_at) > self._most:
            self._free_at.popitem(last=False)
        return allowed
