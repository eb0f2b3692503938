"""The watch as people run it: `stillwell watch` in a process of its own, a mail server that keeps its letters, and the
commands beside it."""

import os
import re
import subprocess
import sys
from contextlib import redirect_stderr, redirect_stdout
from email import message_from_bytes, policy
from io import StringIO
from pathlib import Path
from unittest.mock import patch
from urllib.error import HTTPError
from urllib.parse import urlencode
from urllib.request import Request, urlopen

import paho.mqtt.client as paho
from aiosmtpd.controller import Controller
from tests.live.broker import free_port, until
from tests.trial_home import PLAN

from stillwell.cli.ending import run
from stillwell.control import asks
from stillwell.control.client import Control
from stillwell.control.wire import NoWatch

STILLWELL = Path(sys.executable).with_name("stillwell")
PATIENCE_S = 60

MAILED = (
    PLAN.replace('by = "text"', 'by = "mail"')
    .replace('channels = { text = "30s" }', 'channels = { mail = "30s" }')
    .replace("[parts.hall_pir]", '[parts.hall_pir]\nsupervision = "30min"')
)
"""The trial home, whose people are told by mail, and whose movement detector counts as lost after half an hour."""


class Letters:
    """A mail server that keeps what it is handed."""

    def __init__(self):
        self.got = []
        self._server = Controller(self, hostname="127.0.0.1", port=free_port())
        self.port = self._server.port
        self._server.start()

    async def handle_DATA(self, server, session, envelope):  # noqa: N802 - aiosmtpd's name
        letter = message_from_bytes(envelope.content, policy=policy.default)
        self.got.append((envelope.rcpt_tos[0], letter["Subject"], letter.get_content()))
        return "250 taken"

    def to(self, address, word=""):
        return [text for whom, subject, text in self.got if whom == address and word in subject]

    def stop(self):
        self._server.stop()


class AtWork:
    """One home's watch, started again and again over the same store."""

    def __init__(self, folder, broker_port, letters, plan=MAILED, settings=""):
        self.folder, self.store = folder, str(folder / "home.db")
        self.plan_file = folder / "home.toml"
        self.plan_file.write_text(plan, "utf-8")
        self.settings_file = folder / "settings.toml"
        self.settings_file.write_text(
            f"""
            [broker]
            port = {broker_port}
            [http]
            port = {free_port()}
            [mail]
            host = "127.0.0.1"
            port = {letters.port}
            security = "none"
            sender = "watch@example.org"
            [people.ben]
            mail = "ben@example.org"
            [people.eve]
            mail = "eve@example.org"
            {settings}
            """,
            "utf-8",
        )
        self.settings_file.chmod(0o600)
        self.broker_port = broker_port
        self.process, self.started = None, 0

    def start(self, *options):
        self.started += 1
        command = [STILLWELL, "watch", self.folder, "--store", self.store, "--settings", self.settings_file, *options]
        with self._file("out").open("w") as out, self._file("log").open("w") as log:
            self.process = subprocess.Popen(command, stdout=out, stderr=log)
        until(self._is_there, "the watch is there", PATIENCE_S)
        until(lambda: "connected to the broker" in self.log(), "the watch has its broker", PATIENCE_S)

    def _file(self, ending):
        return self.folder / f"{ending}{self.started}.txt"

    def _is_there(self):
        assert self.process.poll() is None, self.log()
        try:
            self.status()
        except NoWatch:
            return False
        return True

    def log(self):
        return self._file("log").read_text("utf-8")

    def shown(self):
        return self._file("out").read_text("utf-8")

    def status(self):
        return Control(self.store).ask(asks.status())

    def alarm(self, name):
        return next((one for one in self.status().alarms if one.name == name), None)

    def end(self, number):
        self.process.send_signal(number)
        return self.process.wait(PATIENCE_S)

    def publish(self, topic, payload):
        """Publish, and wait until the broker has it."""
        client = paho.Client(paho.CallbackAPIVersion.VERSION2, protocol=paho.MQTTv5)
        client.connect("127.0.0.1", self.broker_port)
        client.loop_start()
        client.publish(topic, payload, qos=1).wait_for_publish(PATIENCE_S)
        client.disconnect()
        client.loop_stop()

    def run(self, *arguments):
        """Run another command; return its exit code and what it printed, on either stream."""
        said = StringIO()
        environment = {"STILLWELL_STORE": self.store, "COLUMNS": "100", "LOGNAME": "eve"}
        with patch.dict(os.environ, environment), redirect_stdout(said), redirect_stderr(said):
            code = run([*map(str, arguments)])
        assert "This is a mistake in Stillwell itself" not in said.getvalue()
        return code, said.getvalue()

    def run_apart(self, *arguments):
        """Run another command in a process of its own; return its exit code, standard output and standard error."""
        environment = {**os.environ, "STILLWELL_STORE": self.store}
        command = [STILLWELL, *map(str, arguments)]
        done = subprocess.run(command, env=environment, capture_output=True, text=True, timeout=PATIENCE_S, check=False)
        assert "Traceback" not in done.stderr
        return done.returncode, done.stdout, done.stderr


def link_in(letter):
    return re.search(r"https?://\S+/answer/\S+", letter)[0]


def press(link, word):
    """Press a button behind a link; return the page."""
    with urlopen(Request(link, urlencode({"answer": word}).encode()), timeout=PATIENCE_S) as page:
        return page.read().decode()


def fetched(url, headers=()):
    try:
        with urlopen(Request(url, headers=dict(headers)), timeout=PATIENCE_S) as answer:
            return answer.status, answer.read().decode()
    except HTTPError as refused:
        with refused:
            return refused.code, refused.read().decode()
