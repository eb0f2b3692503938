"""Once a night, tables that the plan lets learn are learned anew, and what comes of it is kept with its reason."""

import asyncio
from collections.abc import Awaitable, Callable
from datetime import timedelta
from typing import Final
from zoneinfo import ZoneInfo

from stillwell.civiltime import local_datetime, local_instant
from stillwell.plan.read import read_plan
from stillwell.problem import Refusal
from stillwell.watch.home import Fact, Work
from stillwell.watch.log import Say, quiet
from stillwell.watch.loop import Watch
from stillwell.watch.orders import Orders
from stillwell.watch.relearning import Relearned, relearned
from stillwell.watch.resume import fingerprint

AT_MINUTE: Final = 4 * 60 + 40
"""Twenty to five in the morning, local time: the night is nearly over, and the day's limits are still to come."""
LEARNED: Final = "limits learned"
LEFT: Final = "limits left as they were"
BY: Final = "learning at night"
BEFORE: Final = "Before it ran plan "
"""Ahead of the fingerprint by which the plan before is found again."""
LOOK_AGAIN_S: Final = 3600.0

Learn = Callable[[str, str, int], Awaitable[Relearned]]


class Nightly:
    """A piece of the watch. ``store`` is what the watch's own store is called; ``learn`` is given in tests."""

    def __init__(self, watch: Watch, store: str, say: Say = quiet, learn: Learn = relearned) -> None:
        self.watch = watch
        self._store, self._say, self._learn = store, say, learn
        self._orders = Orders(watch)

    async def run(self) -> None:
        """Learn every night, for ever."""
        await self.watch.ready.wait()
        while True:
            due_ms = next_night(self.watch.now(), ZoneInfo(self.watch.plan.home.timezone))
            while self.watch.now() < due_ms:
                wait_s = self.watch.clock.seconds_until(due_ms)
                await asyncio.sleep(LOOK_AGAIN_S if wait_s is None else min(max(wait_s, 0.01), LOOK_AGAIN_S))
            if any(table.relearn is not None for table in self.watch.plan.limits.values()):
                await self.once()

    async def once(self) -> None:
        """Learn, and take what was learned if it was proved; say what came of it either way."""
        running = self.watch.text
        try:
            found = await self._learn(self._store, running, self.watch.now())
            plan = read_plan(found.text, "home.toml")
        except Refusal as refusal:
            self._say("limits were not learned", why=str(refusal.problems[0].what))
            await self._orders.note(LEFT, str(refusal.problems[0].what))
            return
        if self.watch.text != running:
            await self._orders.note(LEFT, "Somebody changed the plan meanwhile.")
            return
        if found.text != running:
            await self._orders.change_plan(plan, found.text, BY)
        for night in found.nights:
            before = f" {BEFORE}{fingerprint(running)}." if night.taken else ""
            await self._keep(LEARNED if night.taken else LEFT, f"limits.{night.table}: {night.sentence}{before}")

    async def _keep(self, what: str, why: str) -> None:
        await self.watch.order(lambda now: Work((Fact(now, what, "watch", BY, why.removesuffix(".")),)))


def next_night(now_ms: int, zone: ZoneInfo) -> int:
    """Return the next instant at which limits are learned."""
    day = local_datetime(zone, now_ms).date()
    today = local_instant(zone, day, AT_MINUTE, "start")
    return today if today > now_ms else local_instant(zone, day + timedelta(days=1), AT_MINUTE, "start")


def table_learned(why: str) -> str:
    """Return the name of the table that a kept reason is about."""
    return why.partition(":")[0].removeprefix("limits.")


def plan_before(why: str) -> str | None:
    """Return the fingerprint of the plan before a night's learning, from the reason that was kept."""
    _, found, rest = why.rpartition(BEFORE)
    return rest.removesuffix(".") if found else None
