"""A real broker on a port of its own."""

import os
import pwd
import random
import signal
import socket
import subprocess
import time
from contextlib import suppress


def free_port():
    """A port that no outgoing connection is given: one of those could take it while a broker is down."""
    while True:
        port = random.randrange(20_000, 32_000)
        with socket.socket() as one, suppress(OSError):
            one.bind(("127.0.0.1", port))
            return port


def answers(port):
    with socket.socket() as one:
        return one.connect_ex(("127.0.0.1", port)) == 0


def until(condition, what, seconds=20):
    """Wait for another process; fail with a word when it does not come."""
    deadline = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < deadline, f"waited {seconds} s in vain until {what}"
        time.sleep(0.01)


SURVIVING = "autosave_on_changes true\nautosave_interval 1\n"


class Mosquitto:
    """A broker with the settings that survive a kill; they cost it a write of all it holds for each message."""

    def __init__(self, folder, extra="", *, survives=True):
        self.port = free_port()
        self.config = folder / "mosquitto.conf"
        self.config.write_text(
            f"user {pwd.getpwuid(os.getuid()).pw_name}\nlistener {self.port} 127.0.0.1\n"
            f"{extra or 'allow_anonymous true'}\npersistence true\npersistence_location {folder}/\n"
            f"{SURVIVING if survives else ''}max_queued_messages 0\nmax_inflight_messages 0\n"
        )
        self.process = None
        self.start()

    def start(self):
        self.process = subprocess.Popen(
            ["mosquitto", "-c", self.config], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        until(lambda: answers(self.port), "mosquitto listens")

    def kill(self):
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()

    def stop(self):
        self.process.terminate()
        self.process.wait()
