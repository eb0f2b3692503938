"""The broker inside, for a first try: the watch's own connection works with it, and what it cannot do is said."""

import asyncio
import builtins
import socket

import aiomqtt
import pytest
from tests.live.test_mqtt import connected
from tests.trial_home import turn

from stillwell.problem import Refusal
from stillwell.store.store import open_store
from stillwell.watch import first_broker as module
from stillwell.watch.first_broker import first_broker, words_for
from stillwell.watch.settings import Broker


def client(settings):
    return aiomqtt.Client(settings.host, settings.port, protocol=aiomqtt.ProtocolVersion.V311)


def test_reports_come_in_and_commands_go_out_over_it(tmp_path):
    async def scene():
        store = open_store(str(tmp_path / "store.db"), owner=True)
        async with first_broker() as settings, connected(store, settings) as (watch, inbox):
            await inbox.connected.wait()
            async with client(settings) as part:
                await part.subscribe("lamps/set", qos=1)
                await part.publish("stillwell/report/tap/wet", "true", qos=1)
                async with asyncio.timeout(20):
                    while not watch.messages.all():  # noqa: ASYNC110 - it goes through sockets
                        await asyncio.sleep(0.01)
                await inbox.publish("lamps/set", "ON")
                heard = await asyncio.wait_for(anext(part.messages), 20)
            await turn(watch)
            return inbox.refused, [row.alarm for row in watch.messages.all()], heard.payload

    assert asyncio.run(scene()) == ([], ["Water"], b"ON")


def test_it_listens_to_this_machine_alone_on_a_port_that_was_free():
    async def scene():
        async with first_broker() as one, first_broker() as other:
            for settings in (one, other):
                with socket.socket() as outside:
                    assert outside.connect_ex((settings.host, settings.port)) == 0
            return one, other

    one, other = asyncio.run(scene())
    assert one.port != other.port
    assert {one.host, other.host} == {"127.0.0.1"}
    with socket.socket() as gone:
        assert gone.connect_ex((one.host, one.port)) != 0


# It drops the connection that it refuses without closing it.
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
def test_version_5_is_refused_by_it_and_so_the_settings_say_the_older_one():
    """MQTT 3.1.1, 3.1.2.2: a server that does not support the level of the client closes the connection."""

    async def scene():
        async with first_broker() as settings:
            assert settings.version == "3.1.1"
            five = aiomqtt.ProtocolVersion.V5
            with pytest.raises(aiomqtt.MqttError):
                async with aiomqtt.Client(settings.host, settings.port, protocol=five, timeout=3):
                    pass

    asyncio.run(scene())


def test_its_start_says_what_it_cannot_do():
    words = " ".join(words_for(Broker(port=1884, version="3.1.1")))
    for said in ("1884", "3.1.1 only", "keep-alive", "first try", "no password", "deploy/mosquitto.conf"):
        assert said in words


def test_without_the_extra_it_says_what_to_install(monkeypatch):
    real = builtins.__import__

    def without(name, *rest, **more):
        if name.startswith("amqtt"):
            raise ModuleNotFoundError(f"No module named {name!r}", name=name)
        return real(name, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", without)

    async def scene():
        async with first_broker():
            pass

    with pytest.raises(Refusal, match=r"stillwell\[trial\]"):
        asyncio.run(scene())


def test_without_a_free_port_it_says_so(monkeypatch):
    taken = socket.socket()
    taken.bind(("127.0.0.1", 0))
    taken.listen()
    port = taken.getsockname()[1]
    monkeypatch.setattr(module, "_ports", lambda: (port,))

    async def scene():
        async with first_broker():
            pass

    with taken, pytest.raises(Refusal, match="no port is free"):
        asyncio.run(scene())
