"""What the keeper serves: POST /beat, GET /status, GET and POST /answer/TOKEN, GET /alive."""

import asyncio
import base64
import hmac
from collections.abc import Callable, Mapping
from typing import Final
from urllib.parse import parse_qs

from starlette.applications import Starlette
from starlette.requests import ClientDisconnect, Request
from starlette.responses import HTMLResponse, PlainTextResponse, Response
from starlette.routing import Route

from stillwell.heartbeat import LARGEST_BYTES, Reason
from stillwell.keeper import pages
from stillwell.keeper.allowance import Allowance
from stillwell.keeper.clock import Clock
from stillwell.keeper.keeper import OLD, Keeper

PATIENCE_S: Final = 10.0
"""How long a body may take to come."""
LARGEST_ANSWER: Final = 1024

_STATUS: Final[Mapping[str, int]] = {Reason.TOO_LARGE: 413, Reason.MALFORMED: 400, OLD: 409}
_GUARD: Final = {
    "Cache-Control": "no-store",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "Content-Security-Policy": (
        "default-src 'none'; style-src 'unsafe-inline'; form-action 'self'; frame-ancestors 'none'"
    ),
}


class Pages:
    """``changed`` is called when there may be something to send."""

    def __init__(self, keeper: Keeper, clock: Clock, changed: Callable[[], None]) -> None:
        self._keeper = keeper
        self._clock = clock
        self._changed = changed
        self._answers = Allowance(most=20, per_minute=20)
        self._passwords = Allowance(most=10, per_minute=10)

    def app(self) -> Starlette:
        """Return the application."""
        routes = [
            Route("/beat", self.beat, methods=["POST"]),
            Route("/status", self.status, methods=["GET"]),
            Route("/answer/{token}", self.answer, methods=["GET", "POST"]),
            Route("/alive", self.alive, methods=["GET"]),
        ]
        return Starlette(routes=routes)

    async def beat(self, request: Request) -> Response:
        """Take a heartbeat: 200 with the signed answer, or why it is refused."""
        body = await _body(request, LARGEST_BYTES)
        now_ms = self._clock.now_ms()
        if body is None:
            said: bytes | str = self._keeper.refuse("", Reason.TOO_LARGE, now_ms)
        else:
            said = self._keeper.hear(body, now_ms)
        if isinstance(said, bytes):
            self._changed()
            return Response(said, media_type="application/json")
        return PlainTextResponse(f"refused: {said}\n", _STATUS.get(said, 403))

    async def status(self, request: Request) -> Response:
        """Show how all homes stand, to whoever knows the password."""
        now_ms, who = self._clock.now_ms(), _who(request)
        password = self._keeper.settings.keeper.status_password
        if password is None:
            return PlainTextResponse("No status_password is set, so nobody sees this page.\n", 403, _GUARD)
        if not self._passwords.left(who, now_ms):
            return PlainTextResponse("Too many tries. Wait a minute.\n", 429, {**_GUARD, "Retry-After": "60"})
        if not _knows(request, password.get_secret_value()):
            self._passwords.take(who, now_ms)
            challenge = {"WWW-Authenticate": 'Basic realm="keeper", charset="UTF-8"'}
            return PlainTextResponse("Any name, and the password of this page.\n", 401, {**_GUARD, **challenge})
        return PlainTextResponse(pages.status(self._keeper, now_ms, self._clock.ahead_ms()), 200, _GUARD)

    async def answer(self, request: Request) -> Response:
        """Show what a link asks; take its answer. Only POST answers, for mail programs look at links by themselves."""
        now_ms = self._clock.now_ms()
        if not self._answers.take(_who(request), now_ms):
            return PlainTextResponse("Too many tries. Wait a minute.\n", 429, {**_GUARD, "Retry-After": "60"})
        link = self._keeper.link(str(request.path_params["token"]), now_ms)
        if link is None:
            return HTMLResponse(pages.no_link(), 404, _GUARD)
        if request.method != "POST":
            return HTMLResponse(pages.ask(self._keeper, link, now_ms), 200, _GUARD)
        body = await _body(request, LARGEST_ANSWER)
        word = parse_qs((body or b"").decode("ascii", "replace")).get("word", [""])[0]
        if word not in ("looking", "cannot"):
            return HTMLResponse(pages.ask(self._keeper, link, now_ms), 400, _GUARD)
        in_time = self._keeper.answer(link, word, self._clock.now_ms())
        self._changed()
        return HTMLResponse(pages.thanks(word, in_time=in_time), 200, _GUARD)

    async def alive(self, request: Request) -> Response:
        """Say that the keeper runs, and nothing else, to anybody: for whoever keeps the keeper."""
        return PlainTextResponse("alive\n" if not self._keeper.trouble else "alive, but it cannot write\n")


async def _body(request: Request, largest: int) -> bytes | None:
    """Return the body; None where it is too long. One that does not come whole is empty."""
    body = bytearray()
    try:
        async with asyncio.timeout(PATIENCE_S):
            async for chunk in request.stream():
                body += chunk
                if len(body) > largest:
                    return None
    except (ClientDisconnect, TimeoutError):
        return b""
    return bytes(body)


def _who(request: Request) -> str:
    return "" if request.client is None else request.client.host


def _knows(request: Request, password: str) -> bool:
    scheme, _, given = request.headers.get("authorization", "").partition(" ")
    try:
        _, _, said = base64.b64decode(given.strip(), validate=True).partition(b":")
    except ValueError:
        return False
    return scheme.casefold() == "basic" and hmac.compare_digest(said, password.encode())
