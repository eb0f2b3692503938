"""The keeper as a real process: beats by HTTP, letters through a command, SIGKILL, SIGTERM."""

import json
import re
import shlex
import signal
import subprocess
import sys
import time
from base64 import b64encode
from pathlib import Path
from urllib.error import HTTPError
from urllib.request import Request, urlopen

import pytest

from stillwell import heartbeat
from stillwell.heartbeat import Answer
from stillwell.watch import beating

KEY = b"0123456789abcdef0123456789abcdef"
DARK_MS = 2_000
PATIENCE_S = 20.0
STILLWELL = Path(sys.executable).with_name("stillwell")

LETTER = """\
import os, pathlib, sys
with open(sys.argv[1], "a", encoding="utf-8") as file:
    said = sys.stdin.read().strip()
    file.write("\\t".join([os.environ["STILLWELL_KEY"], os.environ["STILLWELL_LINK"], said]) + "\\n")
"""


def until(found, what, patience_s=PATIENCE_S):
    """Ask again and again until there is something; a real process needs its time."""
    ends = time.monotonic() + patience_s
    while time.monotonic() < ends:
        if value := found():
            return value
        time.sleep(0.02)
    raise AssertionError(f"{what}: not within {patience_s} s")


class Keeper:
    """One keeper, started again and again over the same store."""

    def __init__(self, folder):
        self.folder, self.letters_file = folder, folder / "letters.txt"
        self.letters_file.touch()
        (folder / "letter.py").write_text(LETTER, "utf-8")
        (folder / "mill.key").write_text(KEY.decode() + "\n", "utf-8")
        run = shlex.join([sys.executable, str(folder / "letter.py"), str(self.letters_file)])
        (folder / "keeper.toml").write_text(
            f"""
            [keeper]
            public = "http://127.0.0.1"
            status_password = "all my homes"
            settle = "500ms"
            [homes.mill]
            name = "Mill Lane 4"
            key = {{ file = "mill.key" }}
            dark_after = "{DARK_MS}ms"
            call = "street"
            [people.ann]
            name = "Ann Field"
            channels = {{ text = {json.dumps("run:" + run)} }}
            [calls.street]
            steps = [{{ whom = ["ann"], by = "text", wait = "1s" }}]
            then = "repeat"
            """,
            "utf-8",
        )
        (folder / "keeper.toml").chmod(0o600)
        self.process, self.port, self.started = None, None, 0

    def start(self):
        self.started += 1
        log = self.folder / f"log{self.started}.txt"
        command = [STILLWELL, "keep", "--settings", self.folder / "keeper.toml", "--store", self.folder / "keeper.db"]
        with log.open("w") as file:
            self.process = subprocess.Popen([*command, "--port", "0"], stderr=file, stdout=subprocess.DEVNULL)
        said = until(lambda: re.search(r'"port": (\d+)', log.read_text("utf-8")), "the port in the log")
        self.port = int(said[1])
        until(self._is_alive, "the keeper's answer")

    def _is_alive(self):
        try:
            return self.ask("/alive")[0] == 200
        except OSError:
            return False

    def ask(self, path, data=None, headers=()):
        request = Request(f"http://127.0.0.1:{self.port}{path}", data, dict(headers))
        try:
            with urlopen(request, timeout=10) as said:
                return said.status, said.read()
        except HTTPError as refused:
            with refused:
                return refused.code, refused.read()

    def status(self):
        password = b64encode(b"any:all my homes").decode()
        return self.ask("/status", headers={"Authorization": f"Basic {password}"})[1].decode()

    def letters(self):
        """Key, link and text of each letter that was received."""
        return [line.split("\t") for line in self.letters_file.read_text("utf-8").splitlines()]

    def end(self, number):
        self.process.send_signal(number)
        return self.process.wait(PATIENCE_S)

    def log(self):
        return "".join((self.folder / f"log{number + 1}.txt").read_text("utf-8") for number in range(self.started))


class Home:
    """A home that beats by hand."""

    def __init__(self, keeper, boot=1):
        self.keeper, self.state, self.sent = keeper, beating.begin(boot, wall_ms()), []

    def beat(self, times=1):
        for _ in range(times):
            now = wall_ms()
            self.state, made = beating.beat(self.state, now, "mill", "plan7", ["Cold"], [])
            self.sent.append(heartbeat.sign(made, KEY))
            code, said = self.keeper.ask("/beat", self.sent[-1])
            answer = heartbeat.read_answer(said, KEY)
            assert (code, type(answer)) == (200, Answer), said
            self.state = beating.answered(self.state, "mill", answer, now)
        return answer


def wall_ms():
    return time.time_ns() // 1_000_000


@pytest.fixture
def keeper(tmp_path):
    keeper = Keeper(tmp_path)
    keeper.start()
    yield keeper
    if keeper.process.poll() is None:
        keeper.process.kill()
        keeper.process.wait()


def test_silence_is_told_until_somebody_answers_and_the_home_returns(keeper):
    home = Home(keeper)
    assert home.beat(2).alive
    silent_from = wall_ms()
    (_, link, text), *_ = until(keeper.letters, "a letter")
    # From the last proof, at most DARK_MS; the rest is starting a program on a busy machine.
    assert wall_ms() - silent_from < DARK_MS + 5_000
    assert "Nothing has been heard of the watch at Mill Lane 4" in text
    assert "The last alarms it told of: Cold." in text
    until(lambda: len(keeper.letters()) >= 3, "more letters, for nobody answered")
    assert len({key for key, _, _ in keeper.letters()}) >= 3
    path = link.removeprefix("http://127.0.0.1")
    assert "I am looking after it" in keeper.ask(path)[1].decode()
    assert keeper.ask(path, b"word=looking")[0] == 200
    assert "Ann Field is looking after it." in keeper.status()
    assert home.beat(2).alive
    assert "Mill Lane 4 (mill): alive; normal" in keeper.status()
    assert keeper.end(signal.SIGTERM) == 0


def test_forged_and_replayed_beats_are_refused_and_shown_and_light_nothing(keeper):
    home = Home(keeper)
    home.beat(3)
    forged = heartbeat.sign(beating.beat(home.state, wall_ms(), "mill", "plan7", [], [])[1], b"f" * 32)
    until(lambda: "DARK since" in keeper.status(), "dark")
    replies = [keeper.ask("/beat", data) for data in (*home.sent, forged, b"{}", b"\0" * 70_000)]
    assert [code for code, _ in replies] == [409, 409, 409, 403, 400, 413]
    status = keeper.status()
    assert "DARK since" in status
    for refused in (
        "3 heartbeats, old or repeated",
        "1 heartbeat, forged",
        "1 heartbeat, malformed",
        "1 heartbeat, too",
    ):
        assert refused in status
    assert keeper.end(signal.SIGTERM) == 0
    keeper.start()
    assert "3 heartbeats, old or repeated" in keeper.status()
    assert keeper.ask("/beat", home.sent[-1])[0] == 409


def test_killed_while_a_home_falls_silent_it_tells_after_the_restart(keeper):
    Home(keeper).beat(2)
    assert keeper.end(signal.SIGKILL) == -signal.SIGKILL
    assert keeper.letters() == []
    keeper.start()
    began = wall_ms()
    until(keeper.letters, "a letter")
    assert wall_ms() - began < DARK_MS + 5_000


def test_killed_while_it_calls_nothing_is_lost_and_no_timer_begins_anew(keeper):
    home = Home(keeper)
    home.beat(2)
    until(keeper.letters, "a letter")
    since = re.search(r"DARK since .*", keeper.status())[0]
    for _ in range(3):
        before = len(keeper.letters())
        keeper.end(signal.SIGKILL)
        keeper.start()
        assert since in keeper.status()
        assert keeper.ask("/beat", home.sent[-1])[0] == 409
        until(lambda: len(keeper.letters()) > before, "the calling goes on")  # noqa: B023 - asked at once
    by_key = {}
    for key, _, text in keeper.letters():
        by_key.setdefault(key, set()).add(text)
    assert all(len(texts) == 1 for texts in by_key.values())  # the same key is the same message
    link = keeper.letters()[0][1].removeprefix("http://127.0.0.1")  # from before the kills: the same asking
    assert keeper.ask(link, b"word=looking")[0] == 200
    assert "Ann Field is looking after it." in keeper.status()


def test_a_home_that_beats_through_a_kill_is_not_called_dark(keeper):
    settings = keeper.folder / "keeper.toml"
    settings.write_text(settings.read_text("utf-8").replace(f"{DARK_MS}ms", "1min"), "utf-8")
    keeper.end(signal.SIGKILL)
    keeper.start()
    home = Home(keeper)
    home.beat(2)
    keeper.end(signal.SIGKILL)
    keeper.start()
    assert home.beat().alive
    again = Home(keeper, boot=2)
    assert again.beat(2).alive
    assert keeper.letters() == []


def test_one_store_has_one_keeper_and_a_taken_port_is_refused(keeper, tmp_path):
    command = [STILLWELL, "keep", "--settings", tmp_path / "keeper.toml", "--store"]
    same = subprocess.run(
        [*command, tmp_path / "keeper.db", "--port", "0"], capture_output=True, check=False, timeout=60
    )
    assert (same.returncode, b"another keeper" in same.stderr) == (2, True)
    port = subprocess.run(
        [*command, tmp_path / "other.db", "--port", str(keeper.port)], capture_output=True, check=False, timeout=60
    )
    assert (port.returncode, b"cannot be had" in port.stderr) == (2, True)


def test_no_secret_and_no_link_is_in_the_log(keeper):
    home = Home(keeper)
    home.beat(2)
    (_, link, _), *_ = until(keeper.letters, "a letter")
    keeper.ask(link.removeprefix("http://127.0.0.1"), b"word=cannot")
    keeper.ask("/answer/guessed")
    assert keeper.end(signal.SIGTERM) == 0
    log = keeper.log()
    assert {"keeping", "dark", "sent", "ended"} <= {json.loads(line)["what"] for line in log.splitlines()}
    for secret in (KEY.decode(), "all my homes", "/answer/", str(keeper.folder / "letter.py")):
        assert secret not in log
