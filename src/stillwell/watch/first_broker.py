"""A broker inside the watch, for a first try: where the settings name none, and somebody wants to see it work.

It speaks MQTT 3.1.1 only and never notices that somebody has fallen silent. It listens to this machine alone, asks
for no password, and forgets everything when it ends. Nothing of ours leans on what a broker does beyond passing
messages on, so the watch works with it as with any other; in earnest, take a broker of its own (deploy/mosquitto.conf).
"""

import logging
import socket
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from typing import Any, Final

from stillwell.problem import refuse
from stillwell.watch.settings import Broker

HOST: Final = "127.0.0.1"
USUAL_PORT: Final = 1883
"""Taken where nobody has it, for this is where everybody looks first."""


@asynccontextmanager
async def first_broker() -> AsyncIterator[Broker]:
    """Run the broker; give the settings to reach it by, for MqttInbox as for anybody else.

    Whoever starts it shows ``words_for`` of these settings. Raises Refusal where the extra is not installed or no port
    is to be had. Use it around everything that talks to it:

        async with first_broker() as settings:
            inbox = MqttInbox(settings, watch)
    """
    server, port = await _started()
    try:
        yield Broker(host=HOST, port=port, version="3.1.1")
    finally:
        with suppress(Exception):  # it was for a try; what ails its end ails nobody
            await server.shutdown()


def words_for(settings: Broker) -> tuple[str, ...]:
    """Say what somebody must know who starts with it, a sentence each."""
    return (
        f"No broker is named, so one for a first try runs inside, at {settings.host} port {settings.port}.",
        "It speaks MQTT 3.1.1 only, enforces no keep-alive, asks for no password, and forgets all when it ends.",
        f"To play the parts: stillwell simulate HOME --live --broker {settings.host}:{settings.port}.",
        "In earnest, run Mosquitto with deploy/mosquitto.conf and name it under [broker] in the settings.",
    )


async def _started() -> tuple[Any, int]:
    try:
        # of the extra "trial", untyped, and slow to import
        from amqtt.broker import Broker as Server  # type: ignore[import-untyped]  # noqa: PLC0415
        from amqtt.errors import BrokerError  # type: ignore[import-untyped]  # noqa: PLC0415
    except ModuleNotFoundError as error:
        raise refuse(
            f"no broker is named, and the one for a first try needs a further package ({error.name})",
            'pip install "stillwell[trial]", or name a broker under [broker] in the settings.',
        ) from error
    log = logging.getLogger("amqtt")
    log.propagate = False  # it tells of every client that goes away as of an error
    if not log.handlers:
        log.addHandler(logging.NullHandler())
    for port in _ports():
        server = Server(_config(port))
        try:
            await server.start()
        except BrokerError:  # somebody was faster
            continue
        return server, port
    raise refuse("no port is free for a broker", "Name a broker under [broker] in the settings.")


def _ports() -> tuple[int, ...]:
    """Return ports that are free now: the usual one if nobody has it, then some that the system hands out."""
    found = []
    for wanted in (USUAL_PORT, 0, 0):
        with socket.socket() as one, suppress(OSError):
            one.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)  # what has ended a moment ago is in nobody's way
            one.bind((HOST, wanted))
            found.append(one.getsockname()[1])
    return tuple(found)


def _config(port: int) -> dict[str, Any]:
    return {
        "listeners": {"default": {"type": "tcp", "bind": f"{HOST}:{port}"}},
        "plugins": {"amqtt.plugins.authentication.AnonymousAuthPlugin": {"allow_anonymous": True}},
    }
