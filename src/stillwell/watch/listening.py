"""Where a watch listens: for parts and for people's answers, and for this machine alone."""

import socket
from contextlib import suppress
from typing import Final

from stillwell.problem import Refusal, refuse
from stillwell.watch.settings import Http

LOOPBACK: Final = "127.0.0.1"


def listening(host: str, port: int) -> socket.socket:
    """Return a listening socket; port 0 is any free one. Raises Refusal where it cannot be had."""
    try:
        family = socket.AF_INET6 if ":" in host else socket.AF_INET
        return socket.create_server((host, port), family=family, backlog=128)
    except (OSError, OverflowError) as error:
        why = getattr(error, "strerror", None) or str(error)
        raise refuse(f"port {port} of {host} cannot be had: {why}", "Name another in the settings.") from error


def listening_outside(named: Http | None) -> socket.socket:
    """Return where parts and people reach us; where nobody named a port, any will do if the usual one is taken."""
    if named is not None:
        return listening(named.host, named.port)
    usual = Http()
    with suppress(Refusal):
        return listening(usual.host, usual.port)
    return listening(usual.host, 0)


def url_of(at: socket.socket) -> str:
    """Return the address of a listening socket."""
    host, port = at.getsockname()[:2]
    return f"http://[{host}]:{port}" if ":" in host else f"http://{host}:{port}"
