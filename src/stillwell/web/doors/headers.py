"""What every answer is sent with, and to whom none is sent at all."""

from collections.abc import Mapping
from typing import Final

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from stillwell.store.accounts import Accounts

POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; form-action 'self'; "
    "base-uri 'none'; frame-ancestors 'none'"
)

HEADERS: Final[Mapping[str, str]] = {
    "Content-Security-Policy": POLICY,
    "Cache-Control": "no-store",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
    "Referrer-Policy": "same-origin",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "X-Robots-Tag": "noindex, nofollow",
}

HERE: Final = frozenset({"127.0.0.1", "::1", "localhost"})
NOT_YET: Final = "Nothing is shown to other machines until the first account has been made on this one.\n"


class Sealed:
    """Adds the headers to every answer, but those that it brings itself."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        async def sealed(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
                if scope.get("scheme") == "https":
                    headers.setdefault("Strict-Transport-Security", "max-age=31536000")
            await send(message)

        await self._app(scope, receive, sealed if scope["type"] == "http" else send)


class OnlyHere:
    """Until there is an account, answers nobody but a browser on this very machine that asked for it by name."""

    def __init__(self, app: ASGIApp, accounts: Accounts) -> None:
        self._app = app
        self._accounts = accounts
        self._open = False

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http" and not self._open:
            self._open = self._accounts.there_are()
            if not self._open and not from_here(scope):
                await PlainTextResponse(NOT_YET, 403)(scope, receive, send)
                return
        await self._app(scope, receive, send)


def from_here(scope: Scope) -> bool:
    """Tell whether a request came from this machine, through nobody else, to a name that means this machine."""
    headers = Headers(scope=scope)
    handed_on = any(name in headers for name in ("forwarded", "x-forwarded-for", "x-real-ip"))
    peer = (scope.get("client") or ("",))[0]
    host = headers.get("host", "").rpartition("]")[0].removeprefix("[") or headers.get("host", "").partition(":")[0]
    return peer in HERE and host in HERE and not handed_on
