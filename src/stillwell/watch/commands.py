"""Commands to parts: sent until the broker has them, and where the plan says so until the part's own report agrees."""

import asyncio
from collections.abc import Awaitable, Callable
from contextlib import suppress
from dataclasses import replace
from typing import Final

from stillwell.plan.model import Commands
from stillwell.store.rows import CommandRow, EventRow
from stillwell.watch.inbox_mqtt import NotConnected
from stillwell.watch.log import Say, quiet
from stillwell.watch.loop import Watch
from stillwell.watch.orders import Orders

MOST_ATTEMPTS: Final = 5
TRY_AGAIN_MS: Final = 2_000
LONGEST_WAIT_MS: Final = 60_000
TOO_LATE_MS: Final = 10 * 60_000
"""A lamp that goes on ten minutes after is no help."""

Publish = Callable[[str, str], Awaitable[None]]


class Commander:
    """Sends the open commands of a watch. ``publish(topic, payload)`` raises NotConnected where it cannot."""

    def __init__(self, watch: Watch, publish: Publish, prefix: str = "stillwell", say: Say = quiet) -> None:
        self.watch = watch
        self._publish = publish
        self._prefix = prefix
        self._say = say
        self._orders = Orders(watch)
        watch.heard.append(self.heard)

    async def run(self) -> None:
        """Send what is due, for ever."""
        await self.watch.ready.wait()
        waiting = self.watch.commands
        while True:
            waiting.changed.clear()
            for row in waiting.due(self.watch.now()):
                await self._try(row)
            next_ms = waiting.next_ms()
            wait_s = None if next_ms is None else self.watch.clock.seconds_until(next_ms)
            with suppress(TimeoutError):
                async with asyncio.timeout(wait_s):
                    await waiting.changed.wait()

    def heard(self, event: EventRow) -> None:
        """Take the part's own report of ``on``: it may be what a command waits for."""
        part, _, word = event.signal.partition(".")
        if word != "on":
            return
        for row in self.watch.commands.all():
            agrees = row.part == part and row.sent_ms is not None and bool(event.value) is row.switch_on
            if agrees and event.value is not None:
                self.watch.commands.mark(replace(row, confirmed_ms=event.at_ms, ended_ms=event.at_ms))

    async def _try(self, row: CommandRow) -> None:
        now_ms = self.watch.now()
        confirm_ms = self._wiring(row.part).confirm
        if row.attempts >= MOST_ATTEMPTS and row.sent_ms is not None:
            await self._give_up(row, now_ms, "the part does not say that it obeyed")
        elif now_ms - row.at_ms > TOO_LATE_MS:
            await self._give_up(row, now_ms, "it could not be sent in time")
        elif not await self._sent(row):
            wait_ms = min(TRY_AGAIN_MS << min(row.attempts, 10), LONGEST_WAIT_MS)
            self.watch.commands.mark(replace(row, attempts=row.attempts + 1, next_try_ms=now_ms + wait_ms))
        elif confirm_ms is None:
            self.watch.commands.mark(replace(row, attempts=row.attempts + 1, sent_ms=now_ms, ended_ms=now_ms))
        else:
            again_ms = self.watch.now() + confirm_ms
            self.watch.commands.mark(
                replace(row, attempts=row.attempts + 1, sent_ms=row.sent_ms or now_ms, next_try_ms=again_ms)
            )

    async def _sent(self, row: CommandRow) -> bool:
        wiring = self._wiring(row.part)
        try:
            await self._publish(wiring.topic, wiring.on if row.switch_on else wiring.off)
        except NotConnected:
            return False
        return True

    async def _give_up(self, row: CommandRow, now_ms: int, why: str) -> None:
        self.watch.commands.mark(replace(row, ended_ms=now_ms, why=why))
        wanted = "on" if row.switch_on else "off"
        self._say("command given up", part=row.part, wanted=wanted, why=why)
        await self._orders.note(f"{row.part} could not be switched {wanted}", why)

    def _wiring(self, part: str) -> Commands:
        found = self.watch.plan.parts.get(part)
        if found is not None and found.commands is not None:
            return found.commands
        return Commands(topic=f"{self._prefix}/command/{part}")
