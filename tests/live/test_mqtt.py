"""The watch at a real Mosquitto: storing before acknowledging, coming back, old messages, refusals.

Section numbers: MQTT Version 5.0, OASIS Standard, 2019.
"""

import asyncio
import gc
import json
import subprocess
from contextlib import asynccontextmanager

import aiomqtt
import pytest
from tests.live.broker import Mosquitto
from tests.trial_home import PLAN, ManualClock, running, turn

from stillwell.plan.read import read_plan
from stillwell.store.store import open_store
from stillwell.watch.commands import Commander
from stillwell.watch.health import DENIED, NO_BROKER, Health
from stillwell.watch.inbox_mqtt import MqttInbox, NotConnected
from stillwell.watch.orders import Orders
from stillwell.watch.settings import Broker

HALL = "radio/hall"
SECONDS = 20


@asynccontextmanager
async def connected(store, settings, clock=None, text=PLAN, say=lambda *_a, **_b: None):
    """Run a watch with its connection to the broker."""
    async with running(store, clock or ManualClock(), text) as watch:
        inbox = MqttInbox(settings, watch, say)
        task = asyncio.create_task(inbox.run())
        try:
            yield watch, inbox
        finally:
            task.cancel()
            await asyncio.gather(task, return_exceptions=True)


async def until(condition, what):
    """Wait for the broker or the watch, with a deadline."""
    async with asyncio.timeout(SECONDS):
        while not condition():  # noqa: ASYNC110 - it may be another process that is waited for
            await asyncio.sleep(0.01)
    assert condition(), what


async def publish(port, *messages, retain=False):
    async with aiomqtt.Client("127.0.0.1", port) as parts:
        for topic, payload in messages:
            await parts.publish(topic, payload, qos=1, retain=retain)


def hall(number):
    return HALL, json.dumps({"seen": True, "battery": 80, "n": number})


def own(mosquitto, **more):
    return Broker(port=mosquitto.port, **more)


def signals(store):
    return [row.signal for row in store.events_after(0)]


@pytest.fixture
def store(tmp_path):
    return open_store(str(tmp_path / "store.db"), owner=True)


def test_from_a_topic_to_the_outbox(mosquitto, store):
    async def scene():
        async with connected(store, own(mosquitto)) as (watch, inbox):
            await inbox.connected.wait()
            await publish(mosquitto.port, hall(1), hall(1), ("stillwell/report/tap/wet", "true"))
            await until(lambda: len(watch.messages), "a message is there")
            return watch.status(), await watch.ask(signals, store), await watch.ask(store.open_messages)

    status, stored, messages = asyncio.run(scene())
    assert sorted(stored) == ["hall_pir.battery", "hall_pir.movement", "tap.wet"]
    assert status.duplicates == 2  # movement and battery of the report that came twice
    assert [row.alarm for row in messages] == ["Water"]


def test_foreign_topics_are_counted_and_shown(mosquitto, store):
    async def scene():
        async with connected(store, own(mosquitto)) as (watch, inbox):
            await inbox.connected.wait()
            for _ in range(3):
                await publish(mosquitto.port, ("stillwell/report/cellar/wet", "1"))
            await publish(mosquitto.port, ("stillwell/report/tap/wet", b"\xff\xfe"), (HALL, b"{"))
            await until(lambda: sum(row.times for row in watch.status().unread) == 6, "all are counted")
            await turn(watch)
            return {(row.reason, row.source): row.times for row in watch.status().unread}, watch.status().events

    unread, events = asyncio.run(scene())
    assert unread[("a part that the plan does not know", "cellar/wet")] == 3
    assert unread[("not readable as text", "stillwell/report/tap/wet")] == 1
    assert unread[("not readable as JSON", HALL)] == 2  # two readings of one topic
    assert events == 0


def test_what_the_broker_kept_from_earlier_is_no_report(mosquitto, store):
    """3.3.1.3: a retained message may be ages old; it must not bring a dead part back to life."""

    async def scene():
        await publish(mosquitto.port, ("stillwell/report/tap/wet", "1"), hall(1), retain=True)
        async with connected(store, own(mosquitto, version="5")) as (watch, inbox):
            await inbox.connected.wait()
            await until(lambda: inbox._fresh, "the mark is back")
            return watch.status().events

    assert asyncio.run(scene()) == 0


def test_an_older_protocol_sends_what_it_kept_and_it_is_counted(mosquitto, store):
    async def scene():
        await publish(mosquitto.port, ("stillwell/report/tap/wet", "1"), retain=True)
        async with connected(store, own(mosquitto, version="3.1.1")) as (watch, inbox):
            await inbox.connected.wait()
            await until(lambda: inbox._fresh, "the mark is back")
            await publish(mosquitto.port, hall(1))
            await until(lambda: watch.status().events == 2, "a live report still comes")
            return [(row.reason, row.source) for row in watch.status().unread]

    assert asyncio.run(scene()) == [("kept by the broker from earlier", "stillwell/report/tap/wet")]


def test_nothing_is_acknowledged_before_it_is_stored(mosquitto, tmp_path, store):
    """4.4: what was not acknowledged is delivered again when the session goes on, to a watch that lost its memory."""

    async def first():
        async with connected(store, own(mosquitto)) as (watch, inbox):
            await inbox.connected.wait()
            await until(lambda: inbox._fresh, "the mark is back")
            watch.ledger.write = never
            await publish(mosquitto.port, ("stillwell/report/tap/wet", "1"))
            async with asyncio.timeout(SECONDS):
                await reached.wait()
            del watch.ledger.write
            gate.set()
            raise GoneError

    async def second():
        async with connected(open_store(str(tmp_path / "other.db"), owner=True), own(mosquitto)) as (watch, _):
            await until(lambda: len(watch.messages), "it is delivered again, and told")
            return [row.alarm for row in watch.messages.all()]

    reached, gate = asyncio.Event(), asyncio.Event()

    async def never(_entries):
        reached.set()
        await gate.wait()
        raise GoneError

    with pytest.raises((GoneError, ExceptionGroup)):
        asyncio.run(first())
    assert asyncio.run(second()) == ["Water"]


class GoneError(Exception):
    """The store dies under the watch."""


def test_it_comes_back_when_the_broker_was_killed_and_misses_nothing(mosquitto, store):
    async def scene():
        async with connected(store, own(mosquitto)) as (watch, inbox):
            await inbox.connected.wait()
            health = Health(watch, inbox.connected.is_set)
            await publish(mosquitto.port, hall(1))
            await until(lambda: watch.status().events == 2, "the first is there")
            mosquitto.kill()
            await until(lambda: not inbox.connected.is_set(), "the loss is noticed")
            await health.look()
            assert NO_BROKER in watch.trouble
            with pytest.raises(NotConnected):
                await inbox.publish("lamps/set", "ON")
            await asyncio.to_thread(mosquitto.start)
            await publish(mosquitto.port, hall(2))  # before the watch is back, most likely
            await inbox.connected.wait()
            await publish(mosquitto.port, hall(3))
            await until(lambda: watch.status().events == 6, "all three are there")
            await health.look()
            assert NO_BROKER not in watch.trouble
            return inbox.connects

    assert asyncio.run(scene()) == 2


def test_signs_of_life_that_waited_at_the_broker_say_nothing_about_now(mosquitto, tmp_path):
    """A watch that was down for two hours gets two hours of movements at once. They are kept, and reset no timer; an
    alarm that waited is told all the same."""
    url, clock = str(tmp_path / "store.db"), ManualClock()
    hour_ms = 3_600_000

    async def before():
        async with connected(open_store(url, owner=True), own(mosquitto), clock) as (watch, inbox):
            await until(lambda: inbox._fresh, "the mark is back")
            await publish(mosquitto.port, hall(1))
            await until(lambda: watch.status().events == 2, "the first is there")

    async def after():
        await publish(mosquitto.port, hall(2), ("stillwell/report/tap/wet", "1"))
        clock.ms += 2 * hour_ms
        async with connected(open_store(url, owner=True), own(mosquitto), clock) as (watch, inbox):
            await until(lambda: inbox._fresh, "the mark is back")
            await until(lambda: len(watch.messages), "the water is told")
            late = watch.status().late
            await turn(watch, at_ms=clock.ms + hour_ms + 10)  # three hours after the last movement seen as it was
            await publish(mosquitto.port, hall(3))
            await until(lambda: watch.status().events == 5, "what comes now counts")
            return late, {row.alarm for row in watch.messages.all()}

    asyncio.run(before())
    assert asyncio.run(after()) == (1, {"Water", "No sign of life"})


def test_a_command_is_sent_and_confirmed_by_the_part(mosquitto, store):
    async def scene():
        async with connected(store, own(mosquitto)) as (watch, inbox):
            commander = asyncio.create_task(Commander(watch, inbox.publish).run())
            await inbox.connected.wait()
            async with aiomqtt.Client("127.0.0.1", mosquitto.port) as lamp:
                await lamp.subscribe("lamps/set", qos=1)
                await publish(mosquitto.port, ("stillwell/report/help/pressed", "1"))
                async with asyncio.timeout(SECONDS):
                    told = await anext(lamp.messages)
                await until(lambda: watch.commands.all() and watch.commands.all()[0].sent_ms is not None, "it is sent")
                await lamp.publish("stillwell/report/lamp/on", "1", qos=1)
            await until(lambda: not watch.commands.all(), "it is confirmed")
            await turn(watch)
            (row,) = await watch.ask(store.commands_between, 0, 2**50)
            commander.cancel()
            return told.payload, row

    payload, row = asyncio.run(scene())
    assert payload == b"ON"
    assert row.confirmed_ms is not None
    assert row.attempts == 1


def test_a_changed_plan_is_heard_at_once(mosquitto, store):
    text = PLAN.replace('topic = "radio/hall"', 'topic = "radio/corridor"')

    async def scene():
        async with connected(store, own(mosquitto)) as (watch, inbox):
            await inbox.connected.wait()
            await Orders(watch).change_plan(read_plan(text, "home.toml"), text, "eve")
            await until(lambda: inbox.takes("radio/corridor"), "the new topic is subscribed to")
            await publish(mosquitto.port, ("radio/corridor", hall(1)[1]))
            await until(lambda: watch.status().events == 2, "the new topic is read")

    asyncio.run(scene())


@pytest.fixture
def guarded(tmp_path):
    """A broker that wants a password and lets the watch read little."""
    if subprocess.run(["which", "mosquitto_passwd"], capture_output=True, check=False).returncode:
        pytest.skip("mosquitto is not installed: apt-get install mosquitto")
    passwords, rights = tmp_path / "passwords", tmp_path / "rights"
    passwords.touch(mode=0o600)
    subprocess.run(["mosquitto_passwd", "-b", passwords, "watch", "a long password"], check=True)
    rights.write_text("user watch\ntopic readwrite stillwell/#\n")
    broker = Mosquitto(tmp_path, f"allow_anonymous false\npassword_file {passwords}\nacl_file {rights}")
    yield broker
    broker.stop()


def test_the_password_is_used_and_never_said(guarded, store):
    said = []

    async def scene():
        settings = own(guarded, user="watch", password="a long password")
        async with connected(store, settings, say=lambda *a, **b: said.append((a, b))) as (watch, inbox):
            async with asyncio.timeout(SECONDS):
                await inbox.connected.wait()
            health = Health(watch, inbox.connected.is_set, lambda: bool(inbox.refused))
            await health.look()
            return list(watch.trouble), inbox.refused

    trouble, refused = asyncio.run(scene())
    assert "a long password" not in str(said)
    # Mosquitto grants a subscription that it will never serve; MQTT 5 lets it say so with a reason code (3.9.3).
    assert (DENIED in trouble) == bool(refused)


@pytest.mark.parametrize("password", [None, "wrong"])
def test_without_the_password_there_is_no_connection(guarded, store, password):
    said = []

    async def scene():
        settings = own(guarded, user="watch", password=password)
        async with connected(store, settings, say=lambda *_a, **b: said.append(str(b.get("why")))) as (_, inbox):
            await until(lambda: said, "the refusal is said")
            return inbox.connected.is_set()

    assert asyncio.run(scene()) is False
    assert "authori" in said[0].casefold()  # 3.2.2.2: reason code 0x87, not authorized


# The client library leaves the socket of a failed handshake to the collector.
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
def test_tls_is_used_and_the_certificate_is_looked_at(tmp_path, store):
    if subprocess.run(["which", "openssl", "mosquitto"], capture_output=True, check=False).returncode:
        pytest.skip("mosquitto or openssl is not installed")
    key, certificate = tmp_path / "key.pem", tmp_path / "certificate.pem"
    make = [
        "openssl",
        "req",
        "-x509",
        "-newkey",
        "rsa:2048",
        "-nodes",
        "-keyout",
        key,
        "-out",
        certificate,
        "-days",
        "2",
    ]
    make += ["-subj", "/CN=localhost", "-addext", "subjectAltName=DNS:localhost,IP:127.0.0.1"]
    subprocess.run(make, check=True, capture_output=True)
    extra = f"allow_anonymous true\ncertfile {certificate}\nkeyfile {key}"
    broker = Mosquitto(tmp_path, extra)

    async def scene(settings):
        async with connected(store, settings) as (_, inbox):
            async with asyncio.timeout(SECONDS):
                await inbox.connected.wait()

    async def distrusted():
        said = []
        other = open_store(str(tmp_path / "other.db"), owner=True)
        async with connected(other, own(broker, tls=True), say=lambda *a, **b: said.append((a, b))) as (_, inbox):
            await until(lambda: said, "the refusal is said")
            return inbox.connected.is_set(), str(said)

    try:
        asyncio.run(scene(own(broker, tls=True, ca_file=str(certificate))))
        there, said = asyncio.run(distrusted())
    finally:
        broker.stop()
        gc.collect()
    assert not there
    assert "certificate" in said.casefold()
