"""The broker's settings that we hand out: a real Mosquitto takes them, and they keep out whom they should.

Return codes: MQTT Version 5.0, OASIS Standard, 2019, sections 3.2.2.2 (0x87 not authorized) and 3.4.2.1 (PUBACK).
Keys of the file: mosquitto.conf(5), mosquitto_passwd(1) of Mosquitto 2.0.
"""

import asyncio
import os
import pwd
import re
import shutil
import ssl
import subprocess
from pathlib import Path

import aiomqtt
import pytest
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from tests.live.broker import Mosquitto, answers, free_port, until
from tests.live.test_mqtt import connected
from tests.trial_home import PLAN, turn

from stillwell.store.store import open_store
from stillwell.watch.health import Health
from stillwell.watch.settings import Broker

DEPLOY = Path(__file__).parents[2] / "deploy"
PASSWORDS = {"watch": "for-the-watch-1", "tap": "for-the-tap-1", "lamp": "for-the-lamp-1"}
# The trial home with the topics that every part has by itself.
USUAL = re.sub(r"commands = .*\n", 'commands = { topic = "stillwell/command/lamp" }\n', PLAN)
USUAL = re.sub(r"reads = \[.*?\n\]\n", "", USUAL, flags=re.DOTALL)


class Deployed(Mosquitto):
    """A broker with the files of deploy/, on a port and in a folder of its own."""

    def __init__(self, folder):
        self.port = free_port()
        self.folder = folder
        text = (DEPLOY / "mosquitto.conf").read_text("utf-8")
        assert "listener 8883" in text
        text = text.replace("listener 8883", f"listener {self.port} 127.0.0.1")
        text = text.replace("/etc/mosquitto/", f"{folder}/").replace("/var/lib/mosquitto/", f"{folder}/")
        self.config = folder / "mosquitto.conf"
        self.config.write_text(f"user {pwd.getpwuid(os.getuid()).pw_name}\n{text}", "utf-8")
        (folder / "stillwell.acl").write_text((DEPLOY / "mosquitto.acl").read_text("utf-8"), "utf-8")
        new_key = ["-newkey", "rsa:2048", "-nodes", "-keyout", folder / "stillwell.key.pem", "-days", "2"]
        whose = ["-subj", "/CN=localhost", "-addext", "subjectAltName=IP:127.0.0.1"]
        cert = folder / "stillwell.cert.pem"
        subprocess.run(["openssl", "req", "-x509", *new_key, *whose, "-out", cert], check=True, capture_output=True)
        shutil.copy(cert, folder / "stillwell.ca.pem")
        for number, (user, password) in enumerate(PASSWORDS.items()):
            new = ["-c"] if not number else []
            file = folder / "stillwell.passwords"
            subprocess.run(["mosquitto_passwd", "-b", *new, file, user, password], check=True, capture_output=True)
        self.process = None
        self.start()

    def client(self, user=None, password=None, **more):
        trust = ssl.create_default_context(cafile=self.folder / "stillwell.ca.pem")
        given = PASSWORDS.get(user) if password is None else password
        five = aiomqtt.ProtocolVersion.V5
        return aiomqtt.Client(
            "127.0.0.1", self.port, username=user, password=given, tls_context=trust, protocol=five, **more
        )

    @property
    def settings(self):
        ca = str(self.folder / "stillwell.ca.pem")
        return Broker(port=self.port, tls=True, ca_file=ca, user="watch", password=PASSWORDS["watch"])


@pytest.fixture
def deployed(tmp_path):
    for tool in ("mosquitto", "mosquitto_passwd", "openssl"):
        if shutil.which(tool) is None:
            pytest.skip(f"{tool} is not installed")
    broker = Deployed(tmp_path)
    yield broker
    broker.stop()


@pytest.mark.parametrize(("user", "password"), [(None, None), ("watch", "guessed"), ("nobody", "guessed"), ("tap", "")])
def test_nobody_comes_in_without_name_and_password(deployed, user, password):
    async def scene():
        async with deployed.client(user, password):
            pass

    with pytest.raises(aiomqtt.MqttError, match=r"[Nn]ot authori[sz]ed"):
        asyncio.run(scene())


def test_nothing_is_spoken_in_the_clear(deployed):
    async def scene():
        async with aiomqtt.Client("127.0.0.1", deployed.port, username="watch", password=PASSWORDS["watch"], timeout=3):
            pass

    with pytest.raises(aiomqtt.MqttError):
        asyncio.run(scene())


def test_the_watch_and_the_parts_do_their_work_and_each_part_speaks_for_itself_alone(deployed, tmp_path):
    async def scene():
        store = open_store(str(tmp_path / "store.db"), owner=True)
        async with (
            connected(store, deployed.settings, text=USUAL) as (watch, inbox),
            deployed.client("tap") as tap,
            deployed.client("lamp") as lamp,
        ):
            await inbox.connected.wait()
            assert inbox.refused == []
            await lamp.subscribe("stillwell/command/lamp", qos=1)
            # In MQTT 5 a broker may say that it denies a publication; this one takes it and passes it to nobody.
            for topic in ("stillwell/report/help/pressed", "stillwell/command/lamp", "stillwell/mark/x"):
                await _tried(tap, topic)
            await tap.publish("stillwell/report/tap/wet", "yes", qos=1)
            async with asyncio.timeout(20):
                while not watch.status().events:  # noqa: ASYNC110 - another process is waited for
                    await asyncio.sleep(0.01)
            await inbox.publish("stillwell/command/lamp", "on")
            heard = await asyncio.wait_for(anext(lamp.messages), 20)
            await turn(watch)
            signals = await watch.ask(lambda: [row.signal for row in store.events_after(0)])
            return signals, heard.payload, list(Health(watch, inbox.connected.is_set)._found())

    assert asyncio.run(scene()) == (["tap.wet"], b"on", [])


async def _tried(client, topic):
    try:
        await client.publish(topic, "on", qos=1)
    except aiomqtt.MqttError as refused:
        assert "authori" in str(refused)  # noqa: PT017 - it may be refused or passed to nobody: either is right


def test_what_is_acknowledged_survives_a_kill(deployed):
    """The watch is away; a part reports; the broker is killed a little later, and comes back with the report."""
    session = {"identifier": "watch-1", "clean_start": False}

    async def away():
        async with deployed.client("watch", properties=_kept(), **session) as watch:
            await watch.subscribe("stillwell/report/#", qos=1)
        async with deployed.client("tap") as tap:
            await tap.publish("stillwell/report/tap/wet", "yes", qos=1)

    async def back():
        async with deployed.client("watch", properties=_kept(), **session) as watch:
            return (await asyncio.wait_for(anext(watch.messages), 20)).payload

    asyncio.run(away())
    saved = deployed.folder / "mosquitto.db"
    until(lambda: saved.exists() and b"stillwell/report/tap/wet" in saved.read_bytes(), "the broker has saved it")
    deployed.kill()
    assert not answers(deployed.port)
    deployed.start()
    assert asyncio.run(back()) == b"yes"


def _kept():
    properties = Properties(PacketTypes.CONNECT)
    properties.SessionExpiryInterval = 3600
    return properties
