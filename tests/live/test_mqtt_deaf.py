"""A broker that is there and does not do its work: the watch notices, says that it is deaf, and comes back.

Between the watch and a real Mosquitto stands a wire that loses what the test says. Waits of minutes are set to parts
of a second: nothing here depends on how long something took. Section numbers: MQTT Version 5.0, OASIS Standard, 2019.
"""

import asyncio
import signal
from contextlib import asynccontextmanager, contextmanager, suppress

import aiomqtt
import pytest
from tests.live.broker import free_port
from tests.live.test_mqtt import SECONDS, connected, hall, own, publish, until
from tests.trial_home import PLAN, ManualClock, running

from stillwell.plan.read import read_plan
from stillwell.store.store import open_store
from stillwell.watch import inbox_mqtt
from stillwell.watch.health import NO_BROKER, Health
from stillwell.watch.inbox_mqtt import MqttInbox
from stillwell.watch.orders import Orders
from stillwell.watch.settings import Broker

PUBLISH, PUBACK = 3, 4  # 2.1.2: the kind of a packet is in the upper half of its first byte


class Wire:
    """Hands on what comes, but for packets of the broker whose kind is among ``lost``; nothing while it is ``down``."""

    def __init__(self, port):
        self.port, self._broker = free_port(), port
        self.lost, self.down = frozenset(), False
        self.opened = 0
        self._writers, self._serving = [], []

    async def serve(self, reader, writer):
        self.opened += 1
        self._serving.append(asyncio.current_task())
        self._writers.append(writer)
        if self.down:
            writer.close()
            return
        with suppress(OSError):
            inner, outer = await asyncio.open_connection("127.0.0.1", self._broker)
            self._writers.append(outer)
            await asyncio.gather(self._hand_on(reader, outer), self._return(inner, writer), return_exceptions=True)

    async def _hand_on(self, reader, writer):
        while data := await reader.read(65_536):
            writer.write(data)
        writer.close()

    async def _return(self, reader, writer):
        with suppress(asyncio.IncompleteReadError):
            while True:
                head = await reader.readexactly(1)
                length, shift = 0, 0
                while True:  # 1.5.5: seven bits in each byte, the lowest first
                    head += await reader.readexactly(1)
                    length |= (head[-1] & 0x7F) << shift
                    shift += 7
                    if head[-1] < 0x80:
                        break
                body = await reader.readexactly(length)
                if head[0] >> 4 not in self.lost:
                    writer.write(head + body)
        if not self.lost:
            writer.close()

    def cut(self):
        self.down = True
        for writer in self._writers:
            writer.close()

    async def end(self):
        self.cut()
        await asyncio.gather(*(writer.wait_closed() for writer in self._writers), return_exceptions=True)
        for task in self._serving:
            task.cancel()
        await asyncio.gather(*self._serving, return_exceptions=True)


@pytest.fixture
def store(tmp_path):
    return open_store(str(tmp_path / "store.db"), owner=True)


@pytest.fixture(autouse=True)
def hurry(monkeypatch):
    """Let nothing of what is waited for on purpose take long. The broker has the time it has in earnest."""
    monkeypatch.setattr(inbox_mqtt, "FIRST_WAIT_S", 0.01)
    monkeypatch.setattr(inbox_mqtt, "LONGEST_WAIT_S", 0.05)
    return monkeypatch


@contextmanager
def standing_still(mosquitto, hurry):
    """Stop a broker for a while; afterwards it has the time to answer that it has in earnest."""
    mosquitto.process.send_signal(signal.SIGSTOP)
    try:
        yield
    finally:
        mosquitto.process.send_signal(signal.SIGCONT)
    hurry.setattr(inbox_mqtt, "ANSWER_WITHIN_S", 10.0)


@asynccontextmanager
async def over_a_wire(store, mosquitto, clock=None, lost=frozenset()):
    """Run a watch whose broker is reached over a wire."""
    wire = Wire(mosquitto.port)
    wire.lost = lost
    server = await asyncio.start_server(wire.serve, "127.0.0.1", wire.port)
    async with server:
        try:
            async with connected(store, Broker(port=wire.port), clock) as (watch, inbox):
                yield watch, inbox, wire
        finally:
            await wire.end()


def test_a_broker_that_takes_no_word_of_ours_is_no_connection_and_that_is_told(mosquitto, store, hurry):
    """It grants all topics and acknowledges nothing (3.4): a connection on which no command would ever be confirmed."""
    hurry.setattr(inbox_mqtt, "ANSWER_WITHIN_S", 0.3)

    async def scene():
        async with over_a_wire(store, mosquitto, lost={PUBACK}) as (watch, inbox, wire):
            health = Health(watch, inbox.connected.is_set)
            for opened in range(2, 6):
                await until(lambda opened=opened: wire.opened >= opened, "it tries again")
                await health.look()
                watch.clock.ms += 60_000
            return inbox.connects, [(row.alarm, row.person) for row in watch.messages.all()]

    assert asyncio.run(scene()) == (0, [(NO_BROKER, "ben")])


def test_a_connection_over_which_nothing_comes_any_more_is_none(mosquitto, store, hurry):
    """3.12: a PINGRESP says that the broker is there, not that it still has a report for us."""
    hurry.setattr(inbox_mqtt, "ECHO_EVERY_S", 0.2)
    hurry.setattr(inbox_mqtt, "ECHO_WITHIN_S", 1.0)

    async def scene():
        async with over_a_wire(store, mosquitto) as (watch, inbox, wire):
            await until(lambda: inbox._came_back, "it hears itself")
            wire.lost = {PUBLISH}
            await until(lambda: not inbox.connected.is_set(), "it notices")
            opened = wire.opened
            await until(lambda: wire.opened >= opened + 2, "it tries in vain")
            assert not inbox.connected.is_set()
            wire.lost = frozenset()
            await inbox.connected.wait()
            await publish(mosquitto.port, hall(1))
            await until(lambda: watch.status().events == 2, "it hears again")

    asyncio.run(scene())


def test_a_broker_that_stands_still_is_noticed_and_found_again(mosquitto, store, hurry):
    hurry.setattr(inbox_mqtt, "ECHO_EVERY_S", 0.2)
    hurry.setattr(inbox_mqtt, "ECHO_WITHIN_S", 1.0)
    hurry.setattr(inbox_mqtt, "ANSWER_WITHIN_S", 1.0)

    async def scene():
        async with connected(store, own(mosquitto)) as (watch, inbox):
            await until(lambda: inbox._came_back, "it hears itself")
            with standing_still(mosquitto, hurry):
                await until(lambda: not inbox.connected.is_set(), "it notices")
            await inbox.connected.wait()
            await publish(mosquitto.port, hall(1))
            await until(lambda: watch.status().events == 2, "it hears again")

    asyncio.run(scene())


def test_who_hangs_up_at_the_door_is_not_waited_for(store):
    """A broker killed as we came in: before, each such try took the whole time that an answer may take."""

    async def scene():
        opened = []

        async def hang_up(reader, writer):
            opened.append(await reader.read(1))
            writer.close()

        port = free_port()
        async with await asyncio.start_server(hang_up, "127.0.0.1", port), connected(store, Broker(port=port)):
            await until(lambda: len(opened) >= 20, "it has tried twenty times")

    asyncio.run(scene())


def test_a_plan_changed_while_the_broker_stands_still_is_heard_afterwards(mosquitto, store, hurry):
    text = PLAN.replace('topic = "radio/hall"', 'topic = "radio/corridor"')
    hurry.setattr(inbox_mqtt, "ANSWER_WITHIN_S", 0.5)

    async def scene():
        async with connected(store, own(mosquitto)) as (watch, inbox):
            await until(lambda: inbox._came_back, "it hears itself")
            with standing_still(mosquitto, hurry):
                await Orders(watch).change_plan(read_plan(text, "home.toml"), text, "eve")
                await until(lambda: not inbox.connected.is_set(), "it leans no more on that connection")
            await until(lambda: inbox.takes("radio/corridor"), "the new topic is subscribed to")
            await publish(mosquitto.port, ("radio/corridor", hall(1)[1]))
            await until(lambda: watch.status().events == 2, "the new topic is read")

    asyncio.run(scene())


def test_a_mark_that_never_comes_back_is_a_topic_denied_until_it_comes(mosquitto, store, hurry):
    """Mosquitto grants topics that its rights file denies, and serves them never."""
    hurry.setattr(inbox_mqtt, "MARK_WITHIN_S", 0.1)
    hurry.setattr(inbox_mqtt, "ECHO_EVERY_S", 0.2)

    async def scene():
        async with over_a_wire(store, mosquitto, lost={PUBLISH}) as (_, inbox, wire):
            await until(lambda: inbox.refused == [inbox._mark_topic], "it is told")
            assert inbox.connected.is_set()
            wire.lost = frozenset()
            await until(lambda: inbox.refused == [], "the next mark comes")

    asyncio.run(scene())


def test_what_waited_says_nothing_about_now_though_the_connection_before_broke_at_once(mosquitto, store):
    """The wait for a mark must not end while nobody is connected: what came meanwhile would pass for new."""
    clock = ManualClock()

    async def scene():
        async with over_a_wire(store, mosquitto, clock, lost={PUBLISH}) as (watch, inbox, wire):
            await inbox.connected.wait()
            mark = inbox._mark
            wire.cut()
            await until(lambda: not inbox.connected.is_set(), "the loss is noticed")
            inbox._unmarked(mark)  # as it comes due
            await publish(mosquitto.port, hall(1))
            clock.ms += 3_600_000
            wire.lost, wire.down = frozenset(), False
            await until(lambda: watch.status().events == 2, "what waited is there")
            return watch.status().late

    assert asyncio.run(scene()) == 1


def test_a_connection_lost_again_and_again_is_not_leant_on(mosquitto, store, hurry):
    """3.1.4: who comes in under our name throws us out. Between two such losses there is a connection each time."""

    async def scene():
        async with connected(store, own(mosquitto)) as (_, inbox):
            unsteady = []
            for number in range(1, inbox_mqtt.LOSSES + 1):
                await until(lambda number=number: inbox.connects == number, "it is connected")
                name = inbox._client.identifier
                async with aiomqtt.Client("127.0.0.1", mosquitto.port, identifier=name):
                    await until(lambda number=number: len(inbox._losses) == number, "it is thrown out")
                    unsteady.append(inbox.unsteady)
            hurry.setattr(inbox_mqtt, "LOSSES_WITHIN_S", 0.0)
            return unsteady, inbox.unsteady

    assert asyncio.run(scene()) == ([False, False, False, True], False)


@pytest.mark.parametrize("turns", range(6))
def test_it_ends_when_it_is_asked_to_though_the_connection_breaks_just_then(mosquitto, store, turns):
    async def scene():
        async with running(store, ManualClock()) as watch:
            inbox = MqttInbox(own(mosquitto), watch)
            task = asyncio.create_task(inbox.run())
            await inbox.connected.wait()
            inbox._client._disconnected.set_exception(aiomqtt.MqttError("broken"))
            for _ in range(turns):
                await asyncio.sleep(0)
            task.cancel()
            async with asyncio.timeout(SECONDS):
                await asyncio.wait({task})
            return task.cancelled()

    assert asyncio.run(scene())


def test_it_ends_when_it_is_asked_to_though_the_answer_comes_just_then():
    async def scene():
        client = inbox_mqtt._Client("127.0.0.1", timeout=SECONDS)
        answer = asyncio.get_running_loop().create_future()
        waiting = asyncio.create_task(client._wait_for(answer, None))
        await asyncio.sleep(0)
        answer.set_result(None)
        waiting.cancel()
        await asyncio.wait({waiting})
        return waiting.cancelled()

    assert asyncio.run(scene())
