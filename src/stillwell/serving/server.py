"""Serving HTTP so that nobody can hold it up: a request has its time to arrive, an address its number of connections.

Neither the library nor the protocol bounds how slowly a request may come, so whoever sends one byte a minute would
keep a place for ever (RFC 9112 section 9.5 leaves the time-outs to the server).
"""

import asyncio
import logging
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, ClassVar, Final

import h11
import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol

ARRIVES_WITHIN_S: Final = 20.0
"""How long a request, head and body, may take to arrive; and a connection, to bring its first."""

MOST_CONNECTIONS: Final = 200
MOST_OF_ONE_ADDRESS: Final = 50
LARGEST_HEAD_BYTES: Final = 16 * 1024
_OWN_MACHINE: Final = ("127.0.0.1", "::1", "")
"""A proxy on this machine brings everybody's connections."""


class Patient(H11Protocol):
    """A connection that is closed when what it owes does not come."""

    arrives_within_s = ARRIVES_WITHIN_S
    most_of_one_address = MOST_OF_ONE_ADDRESS
    _from: ClassVar[Counter[str]] = Counter()

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        super().connection_made(transport)
        self._limit: asyncio.TimerHandle | None = None
        self._address = self.client[0] if self.client else ""
        self._from[self._address] += 1
        if self._address not in _OWN_MACHINE and self._from[self._address] > self.most_of_one_address:
            transport.abort()
        self._watch()

    def connection_lost(self, exc: Exception | None) -> None:
        self._stop()
        self._from[self._address] -= 1
        if not self._from[self._address]:
            del self._from[self._address]
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        super().data_received(data)
        self._watch()

    def on_response_complete(self) -> None:
        super().on_response_complete()
        self._watch()

    def _watch(self) -> None:
        """Let the time run while something is to come; not from piece to piece, but for the whole request."""
        owes = self.conn.their_state in {h11.IDLE, h11.SEND_BODY}
        if not owes or self.timeout_keep_alive_task is not None:  # between two requests the library counts
            self._stop()
        elif self._limit is None:
            self._limit = self.loop.call_later(self.arrives_within_s, self.transport.abort)

    def _stop(self) -> None:
        if self._limit is not None:
            self._limit.cancel()
            self._limit = None


class Server(uvicorn.Server):
    """Leaves signals to us: by itself it would end the process by the signal, not with exit code 0."""

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        yield

    def end(self) -> None:
        """Take no more; end once what is under way is answered, or soon."""
        self.should_exit = True


def config(app: Any, say: Callable[..., None] | None = None, **more: Any) -> uvicorn.Config:
    """Return how an ASGI application is served; ``more`` as uvicorn has it goes before what stands here.

    No line of access is ever written, for addresses of answers are secrets. What the library has to say, and what
    fails inside, goes to ``say``; without it, to the log of the program as it is set up.
    """
    if say is not None:
        _told(say)
    usual: dict[str, Any] = {
        "http": Patient,
        "ws": "none",
        "lifespan": "off",
        "access_log": False,
        "log_config": None,
        "proxy_headers": False,
        "server_header": False,
        "limit_concurrency": MOST_CONNECTIONS,
        "h11_max_incomplete_event_size": LARGEST_HEAD_BYTES,
        "timeout_keep_alive": 75,
        "timeout_graceful_shutdown": 2,
    }
    return uvicorn.Config(app, **(usual | more))


def _told(say: Callable[..., None]) -> None:
    log = logging.getLogger("uvicorn")
    log.handlers[:] = [_Teller(say)]
    log.propagate = False
    logging.getLogger("uvicorn.error").setLevel(logging.WARNING)  # another server in this process may have hushed it


class _Teller(logging.Handler):
    def __init__(self, say: Callable[..., None]) -> None:
        super().__init__(logging.WARNING)
        self._say = say

    def emit(self, record: logging.LogRecord) -> None:
        self._say("the server says", why=self.format(record))
