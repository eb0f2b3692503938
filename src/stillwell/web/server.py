"""Serving the pages until told to end."""

import asyncio
import signal
import socket
from collections.abc import Callable
from typing import Final

import uvicorn

from stillwell.problem import refuse
from stillwell.serving.server import Server, config
from stillwell.web.app import build
from stillwell.web.chart_script import prepare
from stillwell.web.doors.headers import HERE
from stillwell.web.site import Site
from stillwell.web.standing.feed import Feed

MOST_CONNECTIONS: Final = 600
"""An open page holds one, and fetches with a few more."""


class _Server(Server):
    """Says when it has begun, and at the end lets those go who only wait for news."""

    def __init__(self, config: uvicorn.Config, feed: Feed, begun: Callable[[], None]) -> None:
        super().__init__(config)
        self._feed = feed
        self._begun = begun

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        if self.started:
            self._begun()

    def end(self) -> None:
        self._feed.end()
        super().end()


def check_host(site: Site, host: str) -> None:
    """Raise Refusal where other machines would be served before there is an account."""
    if host not in HERE and not site.accounts.there_are():
        raise refuse(
            f"there is no account yet, so nothing is served at {host}",
            "Start once without --host, make the first account with the link that is printed, then again with --host.",
        )


async def serve(site: Site, host: str, port: int, begun: Callable[[str], None]) -> None:
    """Serve until SIGTERM or SIGINT; ``begun`` is told the address once it can be reached. Raises Refusal."""
    check_host(site, host)
    feed = Feed(site)
    served = config(
        build(site, feed),
        host=host,
        port=port,
        lifespan="on",
        proxy_headers=True,
        forwarded_allow_ips="127.0.0.1",
        limit_concurrency=MOST_CONNECTIONS,
    )
    try:
        at = served.bind_socket()
    except SystemExit as error:  # the library's way to say that a port is taken
        raise refuse(f"port {port} cannot be listened at", "Take another one: --port") from error
    name = f"[{host}]" if ":" in host else host
    server = _Server(served, feed, lambda: begun(f"http://{name}:{at.getsockname()[1]}"))
    loop = asyncio.get_running_loop()
    loop.run_in_executor(None, prepare)
    for number in (signal.SIGTERM, signal.SIGINT):
        loop.add_signal_handler(number, server.end)
    await server.serve([at])
