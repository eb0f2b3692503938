"""Reports from a message broker (MQTT 5), and commands to it, over one connection.

A message is acknowledged when its reports are stored. The session outlives the connection, so what is published
meanwhile waits at the broker; but it comes as if it were new. So at each connect we publish a mark to ourselves:
what the broker delivers before the mark has waited, at most since we left off, and is handed in as stamped then.
We subscribe at every connect, whatever the broker says it remembers, and never lean on its will. Nor do we take an
open connection for one that hears: it counts from when the broker has taken subscriptions and mark, and if the mark
came once, it must come again and again.
"""

import asyncio
import random
import secrets
import ssl
from collections import deque
from collections.abc import Awaitable, Callable, Sequence
from contextlib import suppress
from dataclasses import replace
from functools import partial
from types import TracebackType
from typing import Any, Final, Self, TypeVar

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

T = TypeVar("T")

SESSION_S: Final = 7 * 86_400
"""For how long the broker keeps what comes while we are away."""

IN_FLIGHT: Final = 1_000
"""Messages that the broker may send ahead of our acknowledgement, if it will."""

KEEP_ALIVE_S: Final = 20
ANSWER_WITHIN_S: Final = 10.0
"""So long the broker may take for each of the answers that make a connection."""

MARK_WITHIN_S: Final = 120.0
"""Before the mark comes what waited, and that may be much: on a small board 100,000 reports take a minute or two."""

ECHO_EVERY_S: Final = 60.0
ECHO_WITHIN_S: Final = 30.0
"""Where the broker has passed on nothing for so long, not even a mark, it does not pass on what it gets."""

LOSSES: Final = 4
LOSSES_WITHIN_S: Final = 600.0
"""A connection lost so often within so long is no connection to lean on."""

FIRST_WAIT_S: Final = 1.0
LONGEST_WAIT_S: Final = 30.0
REFUSED: Final = 0x80
_MOST_AT_ONCE: Final = 2_000


class NotConnected(Exception):  # noqa: N818 - the world's
    """There is no connection to the broker now."""


class _Client(aiomqtt.Client):
    """aiomqtt acknowledges a message as soon as it is read; this one leaves that to us.

    And where a connection comes to nothing, it waits no longer than it must and leaves nothing open.
    """

    def __init__(self, host: str, **options: Any) -> None:
        super().__init__(host, **options)
        self._client.manual_ack_set(on=True)
        self._held: list[Callable[[], None]] | None = None

    async def __aenter__(self) -> Self:
        """Connect. Raises MqttError."""
        try:
            return await super().__aenter__()
        except aiomqtt.MqttError:
            self._client.disconnect()  # else a broker that was slow lets us in when nobody is there any more
            raise

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Take leave if that can be; what ended the connection, and a wish to end us, count for more."""
        with suppress(aiomqtt.MqttError):
            await super().__aexit__(kind, error, trace)

    async def _wait_for(self, fut: Awaitable[T], timeout: float | None) -> T:  # noqa: ASYNC109 - the library's own
        """Wait for an answer. ``asyncio.wait_for`` of Python 3.11 forgets to end if the answer comes just then."""
        try:
            async with asyncio.timeout(self.timeout if timeout is None else timeout):
                return await fut
        except TimeoutError:
            raise aiomqtt.MqttError("the broker does not answer") from None

    def _client_connect(self) -> None:
        """Open the connection, in a thread; then the loop takes it over. Both at it at once trip over each other."""
        held: list[Callable[[], None]] = []

        def take_over() -> None:
            for do in held:
                do()

        self._held = held
        try:
            super()._client_connect()
        finally:
            self._held = None
        self._loop.call_soon_threadsafe(take_over)

    def _hold(self, do: Callable[[], None]) -> None:
        if self._held is None:
            do()
        else:
            self._held.append(do)

    def _on_socket_open(self, *about: Any) -> None:
        self._hold(partial(super()._on_socket_open, *about))

    def _on_socket_register_write(self, *about: Any) -> None:
        self._hold(partial(super()._on_socket_register_write, *about))

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

    def _on_disconnect(self, *about: Any) -> None:
        if self._connected.cancelled():
            return
        if not self._connected.done():
            self._connected.set_exception(aiomqtt.MqttError("the broker hung up before it let us in"))
        super()._on_disconnect(*about)
        for ended in (self._connected, self._disconnected):  # looked at here, for it may be that nobody waits any more
            if ended.done() and not ended.cancelled():
                ended.exception()


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
        self._heard, self._came_back = asyncio.Event(), False
        self._losses: deque[float] = deque(maxlen=LOSSES)
        self._wait_s, self._why = FIRST_WAIT_S, ""

    @property
    def unsteady(self) -> bool:
        """Whether the connection was lost again and again of late, as when somebody else goes by our name there."""
        return len(self._losses) == LOSSES and asyncio.get_running_loop().time() - self._losses[0] < LOSSES_WITHIN_S

    async def run(self) -> None:
        """Connect, and again whenever the connection is lost; until cancelled."""
        await self.watch.ready.wait()
        self._away_since_ms = self.watch.left_off_ms
        while True:
            try:
                async with self._connection() as client:
                    await self._serve(client)
            except (aiomqtt.MqttError, OSError) as error:
                why = f"{error} ({error.__cause__})" if error.__cause__ else str(error)
                if why != self._why:
                    self._why = why
                    self._say("no connection to the broker", host=self.settings.host, why=why)
            await asyncio.sleep(self._wait_s * random.uniform(0.5, 1.0))  # noqa: S311 - so that not all come back at once
            self._wait_s = min(2 * self._wait_s, LONGEST_WAIT_S)

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
            timeout=ANSWER_WITHIN_S,
            **options,
        )

    def takes(self, topic: str) -> bool:
        """Tell whether a topic (or filter) is subscribed to now."""
        return topic in self._topics

    async def _subscribe(self, client: _Client, topics: Sequence[str]) -> None:
        """Ask for all in one go: with many topics and a slow broker, one by one would take minutes."""
        options = SubscribeOptions(qos=1, retainHandling=SubscribeOptions.RETAIN_DO_NOT_SEND)
        if self.settings.version == "5":
            granted = await client.subscribe([(topic, options) for topic in topics])
        else:
            granted = await client.subscribe([(topic, 1) for topic in topics])
        codes = [code if isinstance(code, int) else code.value for code in granted]
        for topic, code in zip(topics, codes, strict=True):
            if code >= REFUSED:
                self._denied(topic)
            else:
                self._topics.add(topic)

    def _denied(self, topic: str) -> None:
        self.refused.append(topic)
        self._say("the broker denies a topic", topic=topic)

    async def _serve(self, client: _Client) -> None:
        """Read from the first moment on: whatever else waits for the broker ends when the connection does."""
        self._topics.clear()
        self.refused.clear()
        self._fresh, self._mark = False, secrets.token_bytes(16)
        self._client = client
        doing = (self._receive(client), self._greet_and_follow(client), self._listen_to_itself(client))
        tasks = [asyncio.create_task(one) for one in doing]
        try:
            done, _ = await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
            for task in done:
                task.result()
        finally:
            self._lost()
            for task in tasks:
                task.cancel()
            await asyncio.gather(*tasks, return_exceptions=True)

    async def _greet_and_follow(self, client: _Client) -> None:
        await self._subscribe(client, [*self._current_reader().topics, self._mark_topic])
        await self._echo(client, qos=1)
        self.connects += 1
        self._wait_s, self._why = FIRST_WAIT_S, ""
        self.connected.set()
        self._say("connected to the broker", host=self.settings.host)
        asyncio.get_running_loop().call_later(MARK_WITHIN_S, self._unmarked, self._mark)
        await self._follow_plan(client)

    async def _listen_to_itself(self, client: _Client) -> None:
        """Make sure now and then that we hear: a broker may answer every ping, and pass nothing on to us."""
        while True:
            await asyncio.sleep(ECHO_EVERY_S)
            await self._echo(client, qos=0)

    async def _echo(self, client: _Client, qos: int) -> None:
        """Publish the mark, and wait until something comes. Raises MqttError where nothing does."""
        self._heard.clear()
        await client.publish(self._mark_topic, self._mark, qos)
        if not self._came_back:  # it may be that we are denied our own mark, and nothing else
            return
        try:
            async with asyncio.timeout(ECHO_WITHIN_S):
                await self._heard.wait()
        except TimeoutError:
            raise aiomqtt.MqttError("the broker does not pass on what it gets") from None

    async def _receive(self, client: _Client) -> None:
        while True:
            messages = await client.batch()
            self._heard.set()
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
            self._came_back = True
            if topic in self.refused:
                self.refused.remove(topic)
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
            new, old = sorted(wanted - self._topics), sorted(self._topics - wanted)
            if new:
                await self._subscribe(client, new)
            if old:
                await client.unsubscribe(old)
                self._topics.difference_update(old)

    def _current_reader(self) -> Reader:
        if self._read_for is not self.watch.plan:
            self._read_for = self.watch.plan
            self._reader = Reader(self._read_for, self.settings.prefix)
        return self._reader

    def _marked(self, mark: bytes) -> None:
        if mark == self._mark:
            self._fresh, self._away_since_ms = True, None

    def _unmarked(self, mark: bytes) -> None:
        """Wait for the mark no longer. A broker may grant a topic and never serve it."""
        if mark == self._mark and not self._fresh and self._mark_topic not in self.refused:
            self._denied(self._mark_topic)
        self._marked(mark)

    def _lost(self) -> None:
        self._client, self._mark = None, b""
        if self.connected.is_set():
            self.connected.clear()
            self._losses.append(asyncio.get_running_loop().time())
        if self._away_since_ms is None:
            self._away_since_ms = self.watch.now()


def _from(outcome: Outcome, at_ms: int) -> Outcome:
    """As stamped at the earliest instant at which it may have been sent, where the part says nothing itself."""
    if isinstance(outcome, Report) and outcome.stamped_ms is None:
        return replace(outcome, stamped_ms=at_ms)
    return outcome
