"""Sends what waits: every message at least once, each person and channel apart from all others.

What is sent is marked, and the mark is stored with the loop's next turn. A crash between sending and storing sends
the same message again, with the same key.
"""

import asyncio
import random
from collections import Counter
from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import replace
from functools import partial
from typing import Final
from zoneinfo import ZoneInfo

from stillwell.alarms.life import State
from stillwell.channels.apart import apart
from stillwell.channels.notice import Channel, Delivery, Notice, failed
from stillwell.store.database import StoreTrouble
from stillwell.store.rows import MessageRow
from stillwell.watch.home import DRILL, Fact, Home, Work
from stillwell.watch.links import Ask, Links
from stillwell.watch.log import Say, quiet
from stillwell.watch.loop import Watch
from stillwell.wording.counting import listed
from stillwell.wording.messages import Asked, Told, worded
from stillwell.wording.rules import name_alone

FIRST_WAIT_MS: Final = 2_000
LONGEST_WAIT_MS: Final = 5 * 60_000
"""While an alarm asks, somebody who cannot be reached is tried at least so often."""

OWN_TROUBLE_MS: Final = 24 * 3_600_000
"""So long it is tried to tell the keepers what ails the watch itself."""

LIMIT_S: Final = 150.0
AT_ONCE: Final = 3
"""Messages on their way to one person by one channel: one that hangs does not hold up the next."""

SHORT_BY: Final = frozenset({"text"})

_ASKING: Final = frozenset({State.UNACKNOWLEDGED, State.RETURNED})


class Outbox:
    """Sends the open messages of a watch by ``channel``, to ``addresses`` by person and channel.

    ``seed`` draws how far retries are spread.
    """

    def __init__(
        self,
        watch: Watch,
        addresses: Mapping[str, Mapping[str, str]],
        channel: Channel,
        links: Links | None = None,
        *,
        seed: int = 0,
        say: Say = quiet,
        limit_s: float = LIMIT_S,
    ) -> None:
        self.watch = watch
        self._addresses = addresses
        self._channel = channel
        self._links = links
        self._draws = random.Random(seed)  # noqa: S311 - it spreads retries, it keeps no secret
        self._say = say
        self._limit_s = limit_s
        self._under_way: set[str] = set()
        self._busy: Counter[tuple[str, str]] = Counter()
        self._reached: dict[tuple[str, str], bool] = {}

    async def run(self) -> None:
        """Send what is due, for ever."""
        await self.watch.ready.wait()
        waiting = self.watch.messages
        self._reached |= {(row.person, row.channel): False for row in waiting.all() if row.attempts}
        async with asyncio.TaskGroup() as tasks:
            while True:
                waiting.changed.clear()
                for row in sorted(waiting.due(self.watch.now()), key=self._rank):
                    if self._free(row):
                        self._under_way.add(row.key)
                        self._busy[row.person, row.channel] += 1
                        tasks.create_task(self._send(row))
                next_ms = min((row.next_try_ms for row in waiting.all() if self._free(row)), default=None)
                wait_s = None if next_ms is None else self.watch.clock.seconds_until(next_ms)
                with suppress(TimeoutError):
                    async with asyncio.timeout(wait_s):
                        await waiting.changed.wait()

    def failing(self) -> list[str]:
        """Say of each person whom no channel reaches any more that it is so; sorted."""
        ways: dict[str, dict[str, bool]] = {}
        for (person, channel), reached in self._reached.items():
            ways.setdefault(person, {})[channel] = reached
        return [
            f"{self._name(person)} cannot be told by {listed(sorted(by), 'or')}"
            for person, by in sorted(ways.items())
            if not any(by.values())
        ]

    def without_address(self) -> list[tuple[str, str]]:
        """Return each person and channel that a call list uses and the settings have no address for."""
        used = {
            (person, channel)
            for call in self.watch.plan.calls.values()
            for step in call.steps
            for person in step.whom
            for channel in ([step.by] if call.then == "repeat" else self.watch.plan.people[person].channels)
        }
        return sorted(one for one in used if self._address(*one) is None)

    def _free(self, row: MessageRow) -> bool:
        return row.key not in self._under_way and self._busy[row.person, row.channel] < AT_ONCE

    def _rank(self, row: MessageRow) -> tuple[bool, int]:
        """What concerns the resident goes before what concerns the parts, then the oldest first."""
        return kind_of(self.watch.home, row.alarm) in {"", "blind"}, row.at_ms

    async def _send(self, row: MessageRow) -> None:
        try:
            if row.attempts and (why := self._needless(row)):
                self.watch.messages.mark(replace(row, ended_ms=self.watch.now(), why=f"{row.why}; {why}"))
                return
            delivery = await self._sent(row)
            wait_ms = wait_after(row.attempts, self._draws.random())
            self.watch.messages.mark(marked(row, delivery, self.watch.now(), wait_ms))
            self._reached[row.person, row.channel] = delivery.ok
            await self._note(row, delivery)
        finally:
            self._under_way.discard(row.key)
            self._busy[row.person, row.channel] -= 1
            self.watch.messages.changed.set()

    async def _sent(self, row: MessageRow) -> Delivery:
        address = self._address(row.person, row.channel)
        if address is None:
            return failed("the settings hold no address for this")
        try:
            notice = await self._notice(row)
        except Exception as error:  # noqa: BLE001 - a mistake over one message must not stop all others
            return failed(f"the message could not be written: {type(error).__name__}")
        return await apart(partial(self._channel, address, notice), self._limit_s, f"{row.channel} to {row.person}")

    async def _note(self, row: MessageRow, delivery: Delivery) -> None:
        what = f"{'told' if delivery.ok else 'could not tell'} {row.person} by {row.channel}"
        self._say(what, alarm=row.alarm, key=row.key, why=delivery.reason)
        await self.watch.order(lambda now: Work((Fact(now, what, row.alarm, why=delivery.reason),)))

    def _needless(self, row: MessageRow) -> str:
        """Say why it need not be tried again; empty while it must."""
        for other in self.watch.messages.all():
            same = (other.alarm, other.person, other.channel) == (row.alarm, row.person, row.channel)
            if same and other.at_ms > row.at_ms:
                return "a newer one follows"
        alarm = self.watch.home.alarms.get(row.alarm)
        if alarm is None:
            return "too old" if self.watch.now() - row.at_ms > OWN_TROUBLE_MS else ""
        asks = alarm.life.state in _ASKING and alarm.life.asked_at_ms == row.asked_at_ms
        return "" if asks else "nothing is asked any more"

    async def _notice(self, row: MessageRow) -> Notice:
        plan, home = self.watch.plan, self.watch.home
        kind = kind_of(home, row.alarm)
        rows = await asking(self.watch, row.alarm, row.asked_at_ms)
        alarm = home.alarms.get(row.alarm)
        asked = Asked(
            row.alarm.removeprefix(DRILL),
            kind,
            row.person,
            row.at_ms,
            row.asked_at_ms,
            row.raised_at_ms,
            drill=row.drill,
            again=any(one.person == row.person and one.at_ms < row.at_ms for one in rows),
            over=alarm is not None and not alarm.life.condition,
            others=told_of(self.watch, [one for one in rows if one.at_ms <= row.at_ms and one.person != row.person]),
        )
        words = worded(plan, asked, ZoneInfo(plan.home.timezone))
        short = row.channel in SHORT_BY
        link = ""
        if kind and self._links is not None:
            link = self._links.link(Ask(row.alarm, row.person, row.asked_at_ms, row.at_ms))
        sentence = words.short if short else words.sentence
        return Notice(row.key, "" if short else words.subject, sentence, link, row.at_ms)

    def _address(self, person: str, channel: str) -> str | None:
        return self._addresses.get(person, {}).get(channel)

    def _name(self, person: str) -> str:
        return name_of(self.watch, person)


def marked(row: MessageRow, delivery: Delivery, now_ms: int, wait_ms: int) -> MessageRow:
    """Return how a message stands after it was tried."""
    row = replace(row, attempts=row.attempts + 1)
    if delivery.ok:
        return replace(row, sent_ms=now_ms, ended_ms=now_ms, why="")
    return replace(row, next_try_ms=now_ms + wait_ms, why=delivery.reason)


def wait_after(attempts: int, draw: float) -> int:
    """Return how long to wait after so many earlier attempts: twice as long each time, and not all at once.

    ``draw`` from 0 to 1 takes up to a quarter off.
    """
    whole_ms = min(FIRST_WAIT_MS << min(attempts, 30), LONGEST_WAIT_MS)
    return round(whole_ms * (1 - draw / 4))


def kind_of(home: Home, alarm: str) -> str:
    """Return the kind of hazard that an alarm is there for; empty for what is no alarm of this home."""
    kinds = {hazard.name: hazard.kind for hazard in home.plan.hazard}
    for rule in home.program.alarms:
        if rule.name == alarm.removeprefix(DRILL):
            return kinds.get(rule.hazard, "blind")
    return ""


async def asking(watch: Watch, alarm: str, asked_at_ms: int) -> list[MessageRow]:
    """Return the messages of one asking; where the store cannot say, those that are still open."""
    try:
        return await watch.ask(watch.store.messages_of_asking, alarm, asked_at_ms)
    except StoreTrouble:
        return [row for row in watch.messages.all() if (row.alarm, row.asked_at_ms) == (alarm, asked_at_ms)]


def told_of(watch: Watch, rows: Iterable[MessageRow]) -> tuple[Told, ...]:
    """Return each person whom these messages are for, once: told last when, and whether any message reached them."""
    last: dict[str, int] = {}
    reached: dict[str, bool | None] = {}
    for row in rows:
        if row.ended_ms is not None and not row.attempts:
            continue  # a newer one went instead
        last[row.person] = max(last.get(row.person, 0), row.at_ms)
        here = True if row.sent_ms is not None else (False if row.attempts else None)
        before = reached.get(row.person)
        reached[row.person] = True if before or here else before if here is None else here
    return tuple(Told(name_of(watch, person), at_ms, reached[person]) for person, at_ms in last.items())


def name_of(watch: Watch, person: str) -> str:
    """Return a person's name, without what follows it."""
    known = watch.plan.people.get(person)
    return name_alone(known.name) if known is not None else person
