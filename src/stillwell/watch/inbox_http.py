"""Reports by HTTP: ``POST /report/PART`` with the part's own token and a JSON table of signals and values.

    curl -H "Authorization: Bearer TOKEN" -d '{"movement": true, "battery": 81}' http://.../report/hall_pir

The answer is 202 when the reports are stored.
"""

import hmac
from collections.abc import Mapping
from typing import Final

from pydantic import SecretStr
from starlette.requests import ClientDisconnect, Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from stillwell.watch.loop import Watch
from stillwell.watch.payload import LARGEST, Reader, Unread

MOST_AT_ONCE: Final = 64
_NOT_YOURS: Final = "this part, with this token, may not report here"
_NO_TOKEN: Final = "-" * 32


class HttpInbox:
    """Takes reports for the parts that have a token. Nobody else may write."""

    def __init__(self, watch: Watch, tokens: Mapping[str, SecretStr], prefix: str = "stillwell") -> None:
        self.watch = watch
        self._tokens = tokens
        self._prefix = prefix
        self._read_for = watch.plan
        self._reader = Reader(watch.plan, prefix)
        self._busy = 0

    def routes(self) -> list[Route]:
        """Return what to serve."""
        return [Route("/report/{part}", self.report, methods=["POST"])]

    async def report(self, request: Request) -> Response:
        """Take the reports of one part."""
        part = str(request.path_params["part"])
        if not self._may(part, request.headers.get("authorization", "")):
            return _answer(401, _NOT_YOURS, {"WWW-Authenticate": "Bearer"})
        if self._busy >= MOST_AT_ONCE:
            return _answer(429, "too many reports at once", {"Retry-After": "1"})
        self._busy += 1
        try:
            return await self._take(part, request)
        finally:
            self._busy -= 1

    async def _take(self, part: str, request: Request) -> Response:
        try:
            body = await _body(request)
        except ClientDisconnect:
            return _answer(400, "the report broke off")
        if body is None:
            self.watch.hand_in([Unread("too long", part)])
            return _answer(413, f"a report has at most {LARGEST} bytes")
        await self.watch.ready.wait()
        if self._read_for is not self.watch.plan:
            self._read_for = self.watch.plan
            self._reader = Reader(self._read_for, self._prefix)
        outcomes = self._reader.read_for(part, body)
        unread = sorted({one.reason for one in outcomes if isinstance(one, Unread)})
        stored = await self.watch.hand_in(outcomes)
        if unread:
            return _answer(422, "; ".join(unread))
        return JSONResponse({"reports": len(outcomes), "stored": stored}, 202)

    def _may(self, part: str, header: str) -> bool:
        scheme, _, given = header.partition(" ")
        token = self._tokens.get(part)
        wanted = _NO_TOKEN if token is None else token.get_secret_value()
        same = hmac.compare_digest(given.strip().encode("utf-8", "replace"), wanted.encode())
        return same and token is not None and scheme.casefold() == "bearer"


async def _body(request: Request) -> bytes | None:
    """Return the body, or None where it is too long; then the rest is not read."""
    body = bytearray()
    async for chunk in request.stream():
        body += chunk
        if len(body) > LARGEST:
            return None
    return bytes(body)


def _answer(status: int, why: str, headers: Mapping[str, str] | None = None) -> Response:
    return JSONResponse({"why": why}, status, headers)
