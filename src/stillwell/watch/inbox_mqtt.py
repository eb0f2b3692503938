"""Reports from a message broker (MQTT 5), and commands to it, over one connection.

A message is acknowledged when its reports are stored. The session outlives the connection, so what is published
meanwhile waits at the broker; but it comes as if it were new. So at each connect we publish a mark to ourselves:
what the broker delivers before the mark has waited, at most since we left off, and is handed in as stamped then.
We subscribe at every connect, whatever the broker says it remembers, and never lean on its will.
"""

import asyncio
import random
import secrets
import ssl
from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import replace
from functools import partial
from typing import Any, Final

import aiomqtt
from aiomqtt import ProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.subscribeoptions import SubscribeOptions

from stillwell.watch.log import Say, quiet
from stillwell.watch.loop import Watch
from stillwell.watch.payload import LARGEST, Outcome, Reader, Report, Unread
from stillwell.watch.resume import fingerprint
from stillwell.watch.settings import Broker

SESSION_S: Final = 7 * 86_400
"""For how long the broker keeps what comes while we are away."""

IN_FLIGHT: Final = 1_000
"""Messages that the broker may send ahead of our acknowledgement, if it will."""

KEEP_ALIVE_S: Final = 20
MARK_WITHIN_S: Final = 10.0
FIRST_WAIT_S: Final = 1.0
LONGEST_WAIT_S: Final = 30.0
REFUSED: Final = 0x80
_MOST_AT_ONCE: Final = 2_000


class NotConnected(Exception):  # noqa: N818 - the world's
    """There is no connection to the broker now."""


class _Client(aiomqtt.Client):
    """aiomqtt acknowledges a message as soon as it is read; this one leaves that to us."""

    def __init__(self, host: str, **options: Any) -> None:
        super().__init__(host, **options)
        self._client.manual_ack_set(on=True)

    async def batch(self) -> list[aiomqtt.Message]:
        """Wait for a message; return it with all others that are there."""
        found = [await anext(self.messages)]
        while not self._queue.empty() and len(found) < _MOST_AT_ONCE:
            found.append(self._queue.get_nowait())
        return found

    def acknowledge(self, mids: Sequence[int]) -> None:
        """Acknowledge messages, in the order in which they came."""
        for mid in mids:
            self._client.ack(mid, 1)

    def _on_message(self, client: Any, userdata: Any, message: Any) -> None:
        with suppress(ValueError):  # a topic that is no topic
            super()._on_message(client, userdata, message)


class MqttInbox:
    """The connection to the broker. ``connected`` is set while there is one; ``refused`` holds topics it denies."""

    def __init__(self, settings: Broker, watch: Watch, say: Say = quiet) -> None:
        self.settings = settings
        self.watch = watch
        self.connected = asyncio.Event()
        self.refused: list[str] = []
        self.connects = 0
        self._say = say
        self._read_for = watch.plan
        self._reader = Reader(watch.plan, settings.prefix)
        self._topics: set[str] = set()
        self._client: _Client | None = None
        self._away_since_ms: int | None = None
        self._mark_topic = ""
        self._mark = b""
        self._fresh = False

    async def run(self) -> None:
        """Connect, and again whenever the connection is lost; until cancelled."""
        await self.watch.ready.wait()
        self._away_since_ms = self.watch.left_off_ms
        wait_s = FIRST_WAIT_S
        while True:
            try:
                async with self._connection() as client:
                    await self._greet(client)
                    wait_s = FIRST_WAIT_S
                    await self._serve(client)
            except (aiomqtt.MqttError, OSError) as error:
                if self._client is not None or wait_s == FIRST_WAIT_S:
                    self._say("no connection to the broker", host=self.settings.host, why=error)
            finally:
                self._lost()
            await asyncio.sleep(wait_s * random.uniform(0.5, 1.0))  # noqa: S311 - so that not all come back at once
            wait_s = min(2 * wait_s, LONGEST_WAIT_S)

    async def publish(self, topic: str, payload: str) -> None:
        """Publish, and wait until the broker has it. Raises NotConnected."""
        if self._client is None:
            raise NotConnected
        try:
            await self._client.publish(topic, payload, qos=1, timeout=5)
        except (aiomqtt.MqttError, OSError, ValueError) as error:
            raise NotConnected(str(error)) from error

    def _connection(self) -> _Client:
        own, five = self.settings, self.settings.version == "5"
        options: dict[str, Any] = {"clean_session": False, "protocol": ProtocolVersion.V311}
        if five:
            properties = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
            properties.SessionExpiryInterval = SESSION_S
            properties.ReceiveMaximum = IN_FLIGHT
            properties.MaximumPacketSize = 4 * LARGEST
            options = {"clean_start": False, "protocol": ProtocolVersion.V5, "properties": properties}
        if own.tls:
            options["tls_context"] = ssl.create_default_context(cafile=own.ca_file)
        name = own.client or f"stillwell-{fingerprint(self.watch.plan.home.name)}"
        password = None if own.password is None else own.password.get_secret_value()
        self._mark_topic = f"{own.prefix}/mark/{name}"
        return _Client(
            own.host,
            port=own.port,
            username=own.user,
            password=password,
            identifier=name,
            keepalive=KEEP_ALIVE_S,
            timeout=10,
            **options,
        )

    def takes(self, topic: str) -> bool:
        """Tell whether a topic (or filter) is subscribed to now."""
        return topic in self._topics

    async def _subscribe(self, client: _Client, topics: Iterable[str]) -> None:
        options = SubscribeOptions(qos=1, retainHandling=SubscribeOptions.RETAIN_DO_NOT_SEND)
        for topic in topics:
            wanted = [(topic, options)] if self.settings.version == "5" else [(topic, 1)]
            granted = await client.subscribe(wanted)
            if any((code if isinstance(code, int) else code.value) >= REFUSED for code in granted):
                self.refused.append(topic)
                self._say("the broker denies a topic", topic=topic)
            else:
                self._topics.add(topic)

    async def _greet(self, client: _Client) -> None:
        self._topics.clear()
        self.refused.clear()
        self._fresh, self._mark = False, secrets.token_bytes(16)
        await self._subscribe(client, [*self._current_reader().topics, self._mark_topic])
        self._client = client
        self.connects += 1
        self.connected.set()
        self._say("connected to the broker", host=self.settings.host)
        await client.publish(self._mark_topic, self._mark, qos=1)
        asyncio.get_running_loop().call_later(MARK_WITHIN_S, self._marked, self._mark)

    async def _serve(self, client: _Client) -> None:
        following = asyncio.create_task(self._follow_plan(client))
        try:
            await self._receive(client)
        finally:
            following.cancel()

    async def _receive(self, client: _Client) -> None:
        while True:
            messages = await client.batch()
            outcomes: list[Outcome] = []
            for message in messages:
                outcomes += self._read(message)
            mids = [message.mid for message in messages if message.qos]
            stored = self.watch.hand_in(outcomes)
            stored.add_done_callback(partial(self._acknowledge, client, mids))

    def _read(self, message: aiomqtt.Message) -> list[Outcome]:
        topic = message.topic.value
        payload = message.payload if isinstance(message.payload, bytes) else b""
        if topic == self._mark_topic:
            self._marked(payload)
            return []
        if message.retain:
            return [Unread("kept by the broker from earlier", topic)]
        outcomes = self._current_reader().read(topic, payload)
        if self._fresh or self._away_since_ms is None:
            return outcomes
        return [_from(one, self._away_since_ms) for one in outcomes]

    def _acknowledge(self, client: _Client, mids: Sequence[int], done: "asyncio.Future[bool]") -> None:
        if client is self._client and not done.cancelled():
            client.acknowledge(mids)

    async def _follow_plan(self, client: _Client) -> None:
        """Subscribe to what a changed plan names, and no longer to what it names no more."""
        while True:
            await self.watch.plan_changed.wait()
            self.watch.plan_changed.clear()
            wanted = {*self._current_reader().topics, self._mark_topic}
            try:
                await self._subscribe(client, sorted(wanted - self._topics))
                for topic in sorted(self._topics - wanted):
                    await client.unsubscribe(topic)
                    self._topics.discard(topic)
            except aiomqtt.MqttError as error:  # a lost connection is noticed elsewhere, and all is begun anew
                self._say("the changed plan is not subscribed to yet", why=error)

    def _current_reader(self) -> Reader:
        if self._read_for is not self.watch.plan:
            self._read_for = self.watch.plan
            self._reader = Reader(self._read_for, self.settings.prefix)
        return self._reader

    def _marked(self, mark: bytes) -> None:
        if mark == self._mark:
            self._fresh, self._away_since_ms = True, None

    def _lost(self) -> None:
        if self._client is not None:
            self._client = None
            self.connected.clear()
            if self._away_since_ms is None:
                self._away_since_ms = self.watch.now()


def _from(outcome: Outcome, at_ms: int) -> Outcome:
    """As stamped at the earliest instant at which it may have been sent, where the part says nothing itself."""
    if isinstance(outcome, Report) and outcome.stamped_ms is None:
        return replace(outcome, stamped_ms=at_ms)
    return outcome
