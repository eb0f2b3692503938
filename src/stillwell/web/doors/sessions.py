"""Sessions: a cookie that means nothing by itself, and the token that each form must bring back."""

import hashlib
import hmac
import secrets
from typing import Final

from itsdangerous import BadSignature, Signer
from starlette.requests import Request
from starlette.responses import Response

from stillwell.store.accounts import Account, Accounts, Session, key_of

COOKIE: Final = "stillwell"
DOOR_COOKIE: Final = "stillwell-door"

IDLE_MS: Final = {"fitter": 24 * 3_600_000}
"""Unused for so long, a session ends. Who can change things signs in more often."""
IDLE_OTHERS_MS: Final = 60 * 86_400_000
LONGEST_MS: Final = 180 * 86_400_000
SEEN_EVERY_MS: Final = 5 * 60_000


class Sessions:
    """The sessions of one home, and the tokens of forms for visitors with and without one."""

    def __init__(self, accounts: Accounts) -> None:
        self._accounts = accounts
        self._secret = accounts.secret("cookies")
        self._signer = Signer(
            self._secret, salt="stillwell session", key_derivation="hmac", digest_method=hashlib.sha256
        )

    def of(self, request: Request, now_ms: int) -> tuple[Session, Account] | None:
        """Return the session of a request, and whose it is."""
        token = self._token(request, COOKIE)
        found = self._accounts.session(key_of(token), now_ms) if token else None
        if found is not None and now_ms - found[0].seen_ms >= SEEN_EVERY_MS:
            session, account = found
            self._accounts.seen(session.key, now_ms, _ends_ms(account.role, session.begun_ms, now_ms))
        return found

    def csrf(self, request: Request) -> str:
        """Return the token of a visitor's forms; empty for one who brought no cookie."""
        token = self._token(request, COOKIE) or self._token(request, DOOR_COOKIE)
        return self._csrf(token) if token else ""

    def door(self) -> tuple[str, str]:
        """Return a cookie for somebody who has no session yet, and the token of their forms."""
        token = secrets.token_urlsafe(32)
        return self._signer.sign(token).decode(), self._csrf(token)

    def begin(self, request: Request, response: Response, account: Account, now_ms: int, address: str) -> None:
        """Let somebody in, with a cookie that was never seen before."""
        token = secrets.token_urlsafe(32)
        ends_ms = _ends_ms(account.role, now_ms, now_ms)
        self._accounts.begin_session(Session(key_of(token), account.name, now_ms, now_ms, ends_ms, address))
        set_cookie(request, response, COOKIE, self._signer.sign(token).decode(), LONGEST_MS // 1000)
        response.delete_cookie(DOOR_COOKIE)

    def _token(self, request: Request, cookie: str) -> str:
        try:
            return self._signer.unsign(request.cookies.get(cookie, "")).decode("ascii")
        except (BadSignature, UnicodeError):
            return ""

    def _csrf(self, token: str) -> str:
        return hmac.new(self._secret.encode(), f"form {token}".encode(), hashlib.sha256).hexdigest()[:40]


def set_cookie(request: Request, response: Response, name: str, value: str, age_s: int | None = None) -> None:
    """Set a cookie that no script sees and no other site sends along with a form."""
    secure = request.url.scheme == "https"
    response.set_cookie(name, value, max_age=age_s, path="/", httponly=True, secure=secure, samesite="lax")


def _ends_ms(role: str, begun_ms: int, now_ms: int) -> int:
    return min(now_ms + IDLE_MS.get(role, IDLE_OTHERS_MS), begun_ms + LONGEST_MS)
