"""The link in a message: it answers one asking about one home for one person, and only for a time."""

import base64
import hashlib
import hmac
import json
from dataclasses import astuple, dataclass
from typing import Final

LASTS_MS: Final = 3 * 86_400_000
LONGEST: Final = 1000
_LABEL: Final = b"stillwell answer link 1:"


@dataclass(frozen=True, slots=True)
class Link:
    """What a link stands for."""

    home: str
    person: str
    asked_at_ms: int
    expires_ms: int


def token(link: Link, secret: bytes) -> str:
    """Return the end of the link's address: letters, digits, ``-``, ``_`` and one dot."""
    body = json.dumps(astuple(link), separators=(",", ":")).encode()
    return f"{_letters(body)}.{_letters(_mac(body, secret))}"


def read(text: str, secret: bytes, now_ms: int) -> Link | None:
    """Return what the link stands for; None where it is not ours, or too old."""
    body, _, mac = text.partition(".")
    try:
        data = _bytes(body) if len(text) <= LONGEST else b""
        if not hmac.compare_digest(_bytes(mac), _mac(data, secret)):
            return None
    except ValueError:
        return None
    link = Link(*json.loads(data))
    return link if now_ms < link.expires_ms else None


def _mac(body: bytes, secret: bytes) -> bytes:
    return hmac.new(secret, _LABEL + body, hashlib.sha256).digest()


def _letters(data: bytes) -> str:
    return base64.urlsafe_b64encode(data).decode().rstrip("=")


def _bytes(text: str) -> bytes:
    return base64.b64decode(text.encode("ascii") + b"=" * (-len(text) % 4), altchars=b"-_", validate=True)
