"""Invented parts at a broker: they say what a script holds, as fast as is wanted, and obey commands like real ones.

The time is that of the watch where one is on trial there (see ``trial``), else that of the system. For trying out at
a desk; nothing here is used in earnest.
"""

import asyncio
import heapq
import secrets
import ssl
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from itertools import count
from typing import Final

import aiomqtt

from stillwell.plan.model import Plan
from stillwell.problem import refuse
from stillwell.proof.faults import LATE_MS
from stillwell.simulate.events import Break
from stillwell.simulate.script import Report
from stillwell.simulate.telegrams import Telegram, Telegrams, listened_to
from stillwell.watch.clock import passed_ns, wall_ms
from stillwell.watch.settings import Broker
from stillwell.watch.trial import read_time, time_topic

ASKS_TIME_S: Final = 2.0
"""So long a watch on trial may take to say what time it is there."""
AGAIN_S: Final = 1.0
HOUR_MS: Final = 3_600_000

Note = tuple[int, str]
Tell = Callable[[int, str], None]
"""Is told what happens: when, in played time, and what."""


@dataclass
class PlayedClock:
    """Goes on from an instant at a speed; set again whenever the watch says what time it is there."""

    now: int
    speed: float

    def __post_init__(self) -> None:
        self._at_ns = passed_ns()

    def now_ms(self) -> int:
        """Return the played time, milliseconds UTC."""
        return self.now + int((passed_ns() - self._at_ns) / 1e6 * self.speed)

    def seconds_until(self, at_ms: int) -> float:
        """Return how long to wait for an instant, 0 when it is over."""
        return max(0.0, (at_ms - self.now_ms()) / 1000 / self.speed)

    def set(self, now_ms: int, speed: float) -> None:
        """Take over another clock's time and speed."""
        self.now, self.speed, self._at_ns = now_ms, speed, passed_ns()


@dataclass(frozen=True, slots=True)
class Part:
    """What is played: reports and remarks in order of time, what is broken, when it ends."""

    reports: Sequence[Report]
    notes: Sequence[Note]
    breaks: Sequence[Break]
    end_ms: int


@dataclass(slots=True)
class Played:
    """What came of it."""

    reports: int = 0
    commands: int = 0
    unsaid: int = 0
    """Reports that could not be published, for there was no broker."""
    until_ms: int = 0


@dataclass
class Player:
    """Plays parts at a broker. ``write`` makes what is played from the time at which it begins.

    ``speed`` None: as fast as a watch on trial there goes, else at real time.
    """

    plan: Plan
    settings: Broker
    write: Callable[[int], Part]
    speed: float | None
    tell: Tell
    played: Played = field(default_factory=Played)

    def __post_init__(self) -> None:
        self._clock = PlayedClock(wall_ms(), self.speed or 1.0)
        self._telegrams = Telegrams(self.plan, self.settings.prefix)
        self._listened = listened_to(self.plan, self.settings.prefix)
        self._order = count()
        self._due: list[tuple[int, int, Report | Note]] = []
        self._breaks: Sequence[Break] = ()
        self._end_ms: int | None = None

    async def run(self) -> Played:
        """Play until the end, or until cancelled. Raises Refusal where there is no broker to begin with."""
        while True:
            try:
                async with self._client() as client:
                    await self._begin(client)
                    await self._go_on(client)
                    return self.played
            except aiomqtt.MqttError as error:
                where = f"{self.settings.host} port {self.settings.port}"
                if self._end_ms is None:
                    raise refuse(
                        f"no broker lets us in at {where}: {error}",
                        "Start stillwell watch first, which says where its broker is, or name one with --broker.",
                    ) from error
                self.tell(self._clock.now_ms(), "the broker is gone; what parts say now is lost")
                await self._without_broker()

    def _client(self) -> aiomqtt.Client:
        own = self.settings
        return aiomqtt.Client(
            own.host,
            own.port,
            username=own.user,
            password=None if own.password is None else own.password.get_secret_value(),
            tls_context=ssl.create_default_context(cafile=own.ca_file) if own.tls else None,
            identifier=f"parts-{secrets.token_hex(4)}",
            protocol=aiomqtt.ProtocolVersion.V311,  # every broker speaks it, the one for a first try as well
        )

    async def _begin(self, client: aiomqtt.Client) -> None:
        topics = [*self._listened, time_topic(self.settings.prefix)]
        for topic in topics:
            await client.subscribe(topic, qos=1)
        if self._end_ms is not None:
            return
        await self._ask_time(client)
        now_ms = self._clock.now_ms()
        part = self.write(now_ms)
        self._end_ms, self._breaks = part.end_ms, part.breaks
        hours = range(now_ms - now_ms % HOUR_MS + HOUR_MS, part.end_ms, HOUR_MS)
        everything: list[Report | Note] = [*part.reports, *part.notes, *((at_ms, "") for at_ms in hours)]
        for one in everything:
            self._later(one)

    async def _ask_time(self, client: aiomqtt.Client) -> None:
        """Take over the time of a watch on trial, if there is one."""
        with suppress(TimeoutError):
            async with asyncio.timeout(ASKS_TIME_S):
                async for message in client.messages:
                    if self._set(message):
                        self.tell(self._clock.now_ms(), f"a watch on trial is here; its time goes {self._speed_text()}")
                        return
        if self._clock.speed != 1.0:
            self.tell(
                self._clock.now_ms(),
                f"no watch on trial is here: time goes {self._speed_text()} for the parts alone, and a watch in "
                "earnest takes what they say as said now",
            )

    def _speed_text(self) -> str:
        return f"{self._clock.speed:g} times as fast as real time"

    def _set(self, message: aiomqtt.Message) -> bool:
        if message.topic.value != time_topic(self.settings.prefix) or not isinstance(message.payload, bytes):
            return False
        told = read_time(message.payload)
        if told is None:
            return False
        now_ms, speed = told
        if self.speed is not None and speed != self.speed:
            raise refuse(
                f"the watch on trial here goes {speed:g} times as fast as real time",
                f"Start it with --speed {self.speed:g}, or leave --speed out here.",
                name="--speed",
            )
        self._clock.set(now_ms, speed)
        return True

    async def _go_on(self, client: aiomqtt.Client) -> None:
        listening = asyncio.create_task(self._listen(client))
        try:
            while self._due:
                wait_s = self._clock.seconds_until(self._due[0][0])
                done, _ = await asyncio.wait({listening}, timeout=min(wait_s, 0.5))
                if done:
                    listening.result()
                await self._say_due(client)
        finally:
            listening.cancel()
            await asyncio.gather(listening, return_exceptions=True)

    async def _say_due(self, client: aiomqtt.Client) -> None:
        now_ms = self._clock.now_ms()
        together: dict[int, list[tuple[str, float | None]]] = {}
        for report in self._until(now_ms):
            together.setdefault(report[0], []).append(report[1:])
        for at_ms, said in together.items():
            await self._publish(client, self._telegrams.of(at_ms, said))

    def _until(self, now_ms: int) -> list[Report]:
        """Take out what is due: remarks are told, reports returned."""
        found: list[Report] = []
        while self._due and self._due[0][0] <= now_ms:
            at_ms, _, one = heapq.heappop(self._due)
            self.played.until_ms = at_ms
            if len(one) == 3:
                found.append(one)
            else:
                self.tell(at_ms, one[1] or f"{self.played.reports:,} reports so far")
        return found

    async def _publish(self, client: aiomqtt.Client, telegrams: Sequence[Telegram]) -> None:
        for telegram in telegrams:
            await client.publish(telegram.topic, telegram.payload, qos=1)
            self.played.reports += 1

    async def _without_broker(self) -> None:
        await asyncio.sleep(AGAIN_S)
        self.played.unsaid += len(self._until(self._clock.now_ms()))

    async def _listen(self, client: aiomqtt.Client) -> None:
        async for message in client.messages:
            if self._set(message) or not isinstance(message.payload, bytes):
                continue
            for name, commands in self._listened.get(message.topic.value, ()):
                text = message.payload.decode("utf-8", "replace")
                if text in (commands.on, commands.off):
                    await self._obey(client, name, switch_on=text == commands.on)

    async def _obey(self, client: aiomqtt.Client, name: str, *, switch_on: bool) -> None:
        now_ms, wanted = self._clock.now_ms(), "on" if switch_on else "off"
        broken = {one.how for one in self._breaks if name in one.parts and one.at_ms <= now_ms < one.until_ms}
        if broken & {"lost", "stuck"}:
            self.tell(now_ms, f"{name} is told to go {wanted}, and does nothing: it is {', '.join(sorted(broken))}")
            return
        self.played.commands += 1
        self.tell(now_ms, f"{name} goes {wanted}, as commanded")
        report = (f"{name}.on", float(switch_on))
        if "late" in broken:
            self._later((now_ms + LATE_MS, *report))
        else:
            await self._publish(client, self._telegrams.of(now_ms, [report]))

    def _later(self, one: Report | Note) -> None:
        heapq.heappush(self._due, (one[0], next(self._order), one))
