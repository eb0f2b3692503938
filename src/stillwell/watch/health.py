"""The watch over the watch: broker, store, disk, clock, its own loop. What ails it is kept, shown and told."""

import asyncio
import shutil
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from stillwell.watch.log import Say, quiet
from stillwell.watch.loop import Watch
from stillwell.watch.orders import Orders
from stillwell.watch.status import Trouble

LOOK_EVERY_S: Final = 5.0
LEAST_ROOM_BYTES: Final = 100 * 1024 * 1024
SLOW_LOOP_S: Final = 2.0
FAR_AHEAD_MS: Final = 60_000

NO_BROKER: Final = "no connection to the broker"
UNSTEADY: Final = "the connection to the broker is lost again and again"
DENIED: Final = "the broker denies topics"
STORE: Final = "the store cannot be written"
NO_ROOM: Final = "the disk is nearly full"
CLOCK: Final = "the clock of the system is behind"
SLOW: Final = "the watch is too slow"
NO_KEEPER: Final = "the keeper outside does not answer"

TOLD_AFTER_MS: Final = {
    NO_BROKER: 120_000,
    UNSTEADY: 0,
    DENIED: 60_000,
    STORE: 0,
    NO_ROOM: 0,
    CLOCK: 0,
    SLOW: 60_000,
    NO_KEEPER: 0,
}
"""How long something may last before the keepers of the system hear of it."""

OTHERS_TOLD_AFTER_MS: Final = 300_000


@dataclass
class Health:
    """Looks every few seconds. ``broker`` tells whether there is a connection, None where no broker is meant to be.

    ``more`` yields what else is not well, in words.
    """

    watch: Watch
    broker: Callable[[], bool] | None = None
    denied: Callable[[], bool] = lambda: False
    folder: Path | None = None
    say: Say = quiet
    more: Callable[[], Iterable[str]] = tuple

    def __post_init__(self) -> None:
        self._orders = Orders(self.watch)
        self._told: set[str] = set()
        self.lag_s = 0.0

    async def run(self) -> None:
        """Look for ever."""
        await self.watch.ready.wait()
        loop = asyncio.get_running_loop()
        while True:
            begun_s = loop.time()
            await asyncio.sleep(LOOK_EVERY_S)
            self.lag_s = loop.time() - begun_s - LOOK_EVERY_S
            await self.look()

    async def look(self) -> None:
        """Compare how things stand with how they stood; keep what changed as facts, tell what lasts."""
        now_ms = self.watch.now()
        for jump_ms in self.watch.clock.jumps_ms:
            await self._orders.note("the clock was set", f"by {jump_ms / 1000:+.0f} s")
        self.watch.clock.jumps_ms.clear()
        found, known = set(self._found()), self.watch.trouble
        for what in found - set(known):
            known[what] = Trouble(what, now_ms)
            self.say(what)
            await self._orders.note(what)
        for what in set(known) - found:
            del known[what]
            told = what in self._told
            self._told.discard(what)
            self.say("over", trouble=what)
            await self._orders.note(f"over: {what}", tell=told)
        for what, trouble in known.items():
            if what not in self._told and now_ms - trouble.since_ms >= TOLD_AFTER_MS.get(what, OTHERS_TOLD_AFTER_MS):
                self._told.add(what)
                await self._orders.note(what, "the keepers of the system are told", tell=True)

    def _found(self) -> Iterator[str]:
        if self.broker is not None and not self.broker():
            yield NO_BROKER
        if self.denied():
            yield DENIED
        if self.watch.ledger.trouble is not None:
            yield STORE
        if self.folder is not None and shutil.disk_usage(self.folder).free < LEAST_ROOM_BYTES:
            yield NO_ROOM
        if self.watch.clock.ahead_ms() > FAR_AHEAD_MS:
            yield CLOCK
        if self.lag_s > SLOW_LOOP_S:
            yield SLOW
        yield from self.more()
