"""Tells systemd that the watch is ready, still goes round, and ends: so that one that hangs is started again.

The protocol is that of sd_notify(3): datagrams of lines to the socket that NOTIFY_SOCKET names; with WATCHDOG_USEC, one
at least so often. Under anything else than systemd there is neither, and nothing is sent.
"""

import asyncio
import socket
from collections.abc import Mapping
from typing import Final

from stillwell.watch.loop import Watch

_MICRO: Final = 1_000_000


class Notify:
    """The way to systemd, if it is there. ``every_s``: how often it wants to hear that we live; 0: it does not."""

    def __init__(self, environment: Mapping[str, str]) -> None:
        self._address = environment.get("NOTIFY_SOCKET", "")
        given = environment.get("WATCHDOG_USEC", "")
        self.every_s = int(given) / _MICRO / 3 if given.isdecimal() and self._address else 0.0

    def say(self, line: str) -> None:
        """Send a line, such as READY=1; what goes wrong with it is no reason to end."""
        if not self._address:
            return
        address = f"\0{self._address[1:]}" if self._address.startswith("@") else self._address
        with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as way:
            try:
                way.sendto(line.encode(), address)
            except OSError:
                return

    async def keep_alive(self, watch: Watch) -> None:
        """As long as the loop of the watch goes round, say so."""
        while True:
            if await watch.turns(self.every_s):
                self.say("WATCHDOG=1")
            await asyncio.sleep(self.every_s)
