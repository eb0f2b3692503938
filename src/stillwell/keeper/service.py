"""The keeper as a process: its clock, its timer, its letters and its server, until it is asked to end."""

import asyncio
import signal
import socket
from contextlib import closing, suppress
from pathlib import Path
from typing import Final

from stillwell.channels.apart import apart
from stillwell.channels.notice import Notice
from stillwell.channels.ways import by_address
from stillwell.keeper.clock import Clock
from stillwell.keeper.keeper import Keeper, Say
from stillwell.keeper.memory import Letter, Memory, Trouble
from stillwell.keeper.settings import Settings
from stillwell.keeper.web import Pages
from stillwell.problem import refuse
from stillwell.serving.server import Server, config

LONGEST_NAP_S: Final = 5.0
"""So often it looks at the clock even if nothing is due."""
SHORTEST_NAP_S: Final = 0.02
LIMIT_S: Final = 150.0
"""How long one sending may take."""
TIDY_EVERY_MS: Final = 86_400_000


def keep(settings: Settings, store: Path, port: int | None, say: Say) -> None:
    """Run until SIGTERM or SIGINT. Raises Refusal where the store or the port cannot be had."""
    keeping = settings.keeper
    with (
        closing(Memory(store)) as memory,
        closing(_listening(keeping.host, keeping.port if port is None else port)) as at,
    ):
        asyncio.run(_Service(settings, memory, say).run(at))


def _listening(host: str, port: int) -> socket.socket:
    try:
        family = socket.AF_INET6 if ":" in host else socket.AF_INET
        return socket.create_server((host, port), family=family, backlog=128)
    except OSError as error:
        why = error.strerror or str(error)
        raise refuse(f"port {port} of {host} cannot be had: {why}", "Name another with --port.") from error


class _Service:
    def __init__(self, settings: Settings, memory: Memory, say: Say) -> None:
        self._clock = Clock(not_before_ms=memory.now_ms())
        self._memory = memory
        self._say = say
        self._keeper = Keeper(settings, memory, self._clock.now_ms(), say)
        self._channel = by_address(settings.mail_server)
        self._wake = asyncio.Event()
        self._sending: set[asyncio.Task[None]] = set()
        self._tidied_ms = 0

    async def run(self, at: socket.socket) -> None:
        keeping = self._keeper.settings.keeper
        app = Pages(self._keeper, self._clock, self._wake.set).app()
        server = Server(config(app, self._say, ssl_certfile=keeping.certificate, ssl_keyfile=keeping.certificate_key))
        loop = asyncio.get_running_loop()
        for number in (signal.SIGTERM, signal.SIGINT):
            loop.add_signal_handler(number, server.end)
        host, port = at.getsockname()[:2]
        self._say("keeping", homes=len(self._keeper.states), host=host, port=port)
        async with asyncio.TaskGroup() as tasks:
            working = tasks.create_task(self._work(tasks))
            await server.serve([at])
            working.cancel()
            self._stop_sending()
        self._keeper.end(self._clock.now_ms())
        self._say("ended")

    async def _work(self, tasks: asyncio.TaskGroup) -> None:
        """Let time pass, and hand out what is to be sent."""
        while True:
            self._wake.clear()
            now_ms = self._clock.now_ms()
            self._keeper.pass_time(now_ms)
            for letter in self._keeper.post.take(now_ms):
                sending = tasks.create_task(self._send(letter))
                self._sending.add(sending)
                sending.add_done_callback(self._sending.discard)
            self._tidy(now_ms)
            with suppress(TimeoutError):
                async with asyncio.timeout(self._nap_s(now_ms)):
                    await self._wake.wait()

    def _nap_s(self, now_ms: int) -> float:
        times = [at_ms for at_ms in (self._keeper.deadline(), self._keeper.post.next_ms()) if at_ms is not None]
        return min([LONGEST_NAP_S, *(max(SHORTEST_NAP_S, (at_ms - now_ms) / 1000) for at_ms in times)])

    async def _send(self, letter: Letter) -> None:
        address = self._keeper.settings.address(letter.person, letter.channel)
        if address is None:
            why: str | None = "the settings no longer say how to reach this person so"
        else:
            link = self._keeper.link_for(letter, self._clock.now_ms())
            notice = Notice(letter.key, letter.subject, letter.text, link, letter.at_ms)
            delivery = await apart(lambda: self._channel(address, notice), LIMIT_S)
            why = None if delivery.ok else delivery.reason or "not taken"
        self._keeper.sent(letter, why, self._clock.now_ms())
        self._wake.set()

    def _stop_sending(self) -> None:
        """Leave what is under way; it goes out at the next start, with the same key."""
        for sending in self._sending:
            sending.cancel()

    def _tidy(self, now_ms: int) -> None:
        if now_ms - self._tidied_ms >= TIDY_EVERY_MS:
            self._tidied_ms = now_ms
            with suppress(Trouble):
                self._memory.tidy(now_ms)
