"""Kill a keeper again and again while homes beat and fall silent, then look whether anything was lost.

What must hold is worked out from when the home beat: it is called dark no sooner than agreed after the last proof of
life, and no later than that or the settling after a restart; each letter has arrived, or a newer one of its kind has;
each answer that was taken has stayed; and no beat that was taken once is ever taken again.
"""

import random
import re
import signal
import sqlite3
import subprocess
import sys
import threading
import time
from collections import Counter
from contextlib import suppress
from dataclasses import dataclass
from http.client import HTTPException
from pathlib import Path
from urllib.error import HTTPError
from urllib.request import Request, urlopen

from tests.live.receiver import Receiver

from stillwell import heartbeat
from stillwell.heartbeat import Answer
from stillwell.watch import beating
from stillwell.watch.clock import wall_ms

KEY = b"0123456789abcdef0123456789abcdef"
DARK_MS, SETTLE_MS, WAIT_MS = 1_500, 500, 1_000
BEAT_EVERY_S = 0.1
SLACK_MS = 3_000
"""What a busy machine may add; without a crash it is some milliseconds."""

REFUSING = 0.1
STILLWELL = Path(sys.executable).with_name("stillwell")


@dataclass
class Outcome:
    """What was found in the end."""

    rounds: int
    beats: int
    silences: int
    letters: int
    arrived: int
    twice: int
    answers: int
    replays_refused: int
    seconds: float


class Victim:
    """The keeper as a process; ``lives`` holds from when to when it listened, each time that it came so far."""

    def __init__(self, folder, receiver):
        self.folder, self.lives, self.port, self._lives = folder, [], None, 0
        settings = folder / "keeper.toml"
        settings.touch(mode=0o600)
        settings.write_text(
            f"""
            [keeper]
            public = "http://127.0.0.1"
            settle = "{SETTLE_MS}ms"
            [homes.mill]
            name = "Mill Lane 4"
            key = "{KEY.decode()}"
            dark_after = "{DARK_MS}ms"
            call = "street"
            [people.ann]
            name = "Ann Field"
            channels = {{ text = "{receiver.webhook("ann")}" }}
            [people.ben]
            name = "Ben Marsh"
            channels = {{ mail = "ben@home.example" }}
            [calls.street]
            steps = [
                {{ whom = ["ann"], by = "text", wait = "{WAIT_MS}ms" }},
                {{ whom = ["ben"], by = "mail", wait = "{WAIT_MS}ms" }},
            ]
            then = "repeat"
            [mail]
            host = "127.0.0.1"
            port = {receiver.smtp_port}
            security = "none"
            sender = "keeper@home.example"
            """,
            "utf-8",
        )

    def start(self):
        self._lives += 1
        self.log = self.folder / f"log{self._lives}"
        command = [STILLWELL, "keep", "--settings", self.folder / "keeper.toml", "--store", self.folder / "keeper.db"]
        with self.log.open("wb") as errors:
            port = ["--port", str(self.port or 0)]
            self.process = subprocess.Popen([*command, *port], stderr=errors, stdout=subprocess.DEVNULL)

    def listening(self):
        """Wait until it listens."""
        deadline = time.monotonic() + 30
        while not (said := re.search(r'"port": (\d+)', self.log.read_text("utf-8"))):
            assert self.process.poll() is None, self.log.read_text("utf-8")
            assert time.monotonic() < deadline, "the keeper does not listen"
            time.sleep(0.005)
        self.port = int(said[1])
        self.lives.append((wall_ms(), 2**53))

    def kill(self):
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()
        if self.lives and self.lives[-1][1] == 2**53:
            self.lives[-1] = self.lives[-1][0], wall_ms()

    def ask(self, path, data=None):
        """Return code and body; OSError where nobody answers."""
        try:
            with urlopen(Request(f"http://127.0.0.1:{self.port}{path}", data), timeout=5) as said:
                return said.status, said.read()
        except HTTPError as refused:
            with refused:
                return refused.code, refused.read()


class Home:
    """A home that beats from a thread, with silences; ``silences`` holds from which proof on, and until when."""

    def __init__(self, keeper, receiver, seed):
        self._keeper, self._receiver, self._draw = keeper, receiver, random.Random(seed)
        self._state = beating.begin(1, wall_ms())
        self._ending, self._tried = threading.Event(), set()
        self.taken, self.silences, self.answered_ms, self.proofs, self.refused = [], [], [], [], 0
        self.wrong = None
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def end(self):
        self._ending.set()
        self._thread.join(60)

    def _run(self):
        try:
            self._beat_and_be_silent()
        except AssertionError as wrong:
            self.wrong = wrong

    def _beat_and_be_silent(self):
        while not self._ending.is_set():
            self._while(self._draw.uniform(1.0, 4.0), self._beat)
            began_ms = wall_ms()
            self._while((DARK_MS + SETTLE_MS) / 1000 + self._draw.choice([1, 2, 4, 8]), self._be_silent)
            self.silences.append((began_ms, wall_ms()))

    def _while(self, seconds, do):
        ends = time.monotonic() + seconds
        while time.monotonic() < ends and not self._ending.is_set():
            with suppress(OSError, HTTPException):  # it was killed, or is not up again
                do()
            self._ending.wait(BEAT_EVERY_S)

    def _beat(self):
        now_ms = wall_ms()
        self._state, made = beating.beat(self._state, now_ms, "mill", "plan7", ["Cold"], [])
        data = heartbeat.sign(made, KEY)
        code, said = self._keeper.ask("/beat", data)
        answer = heartbeat.read_answer(said, KEY)
        assert code == 200, said
        assert isinstance(answer, Answer)
        if made.keeper_ms:
            self.proofs.append((wall_ms(), made.keeper_ms))
        self._state = beating.answered(self._state, "mill", answer, now_ms)
        self.taken.append(data)

    def _be_silent(self):
        """Play back an old beat, and now and then answer a letter by its link."""
        if self.taken:
            code, _ = self._keeper.ask("/beat", self._draw.choice(self.taken[-20:]))
            assert code == 409, "a beat was taken twice"
            self.refused += 1
        links = [one.text.splitlines()[-1] for one in self._receiver.got[-1:]]
        for link in set(links) - self._tried:
            if self._draw.random() < 0.2:
                self._tried.add(link)
                code, said = self._keeper.ask(link.removeprefix("http://127.0.0.1"), b"word=looking")
                if code == 200 and b"nobody else is asked" in said:
                    self.answered_ms.append(wall_ms())


def run(folder, rounds, seed=1):
    """Kill a keeper ``rounds`` times at random instants; return what was found, or fail."""
    draw, begun = random.Random(seed), time.monotonic()
    receiver = Receiver(REFUSING, seed)
    keeper = Victim(folder, receiver)
    keeper.start()
    try:
        keeper.listening()
        home = Home(keeper, receiver, seed)
        for number in range(rounds):
            time.sleep(draw.uniform(0.0, 1.6))
            keeper.kill()
            keeper.start()
            if number % 3:
                keeper.listening()  # else it may be killed before
        if keeper.lives[-1][1] < 2**53:
            keeper.listening()
        while not any(since > keeper.lives[-1][0] for since, _ in list(home.silences)):
            if home.wrong is not None:
                raise home.wrong
            time.sleep(0.05)
        home.end()
        assert home.wrong is None, home.wrong
        keeper.process.send_signal(signal.SIGTERM)
        assert keeper.process.wait(20) == 0, keeper.log.read_text("utf-8")
    finally:
        keeper.process.kill()
        keeper.process.wait()
        receiver.close()
    letters, twice = look(folder / "keeper.db", keeper, home, receiver)
    return Outcome(
        rounds, len(home.taken), len(home.silences), letters, len(receiver.got), twice, len(home.answered_ms),
        home.refused, time.monotonic() - begun,
    )  # fmt: skip


def look(path, keeper, home, receiver):
    """Compare the keeper's store and what arrived with what the beats demand."""
    database = sqlite3.connect(path)
    database.row_factory = sqlite3.Row
    facts = [(row["at_ms"], row["what"]) for row in database.execute("SELECT at_ms, what FROM fact ORDER BY number")]
    dark = [at_ms for at_ms, what in facts if what == "dark"]
    for at_ms in dark:
        proof = max(proof for heard_ms, proof in home.proofs if heard_ms <= at_ms)
        assert at_ms >= proof + DARK_MS, "called dark too soon"
        came_back = max((up for up, _ in keeper.lives if up <= at_ms), default=0)
        assert at_ms <= max(proof + DARK_MS, came_back + SETTLE_MS) + SLACK_MS, "a timer began anew"
    for since_ms, until_ms in home.silences:
        told = any(since_ms - SLACK_MS <= at_ms <= until_ms + SLACK_MS for at_ms in dark)
        dark_ms = DARK_MS + max((proof for heard_ms, proof in home.proofs if heard_ms <= since_ms), default=2**53)
        up_for_ms = max(min(down, until_ms) - max(up, dark_ms) for up, down in keeper.lives)
        was_dark = not told and _is_dark(facts, since_ms)
        assert told or was_dark or up_for_ms < SETTLE_MS + SLACK_MS, "a silence was not noticed"
    taken = sum(what == "looking after it" for _, what in facts)
    assert taken >= len(home.answered_ms), "an answer that was taken is gone"
    rows = [dict(row) for row in database.execute("SELECT * FROM letter")]
    database.close()
    return len(rows), arrived(rows, receiver.got)


def _is_dark(facts, at_ms):
    states = [what for when, what in facts if when <= at_ms and what in ("dark", "heard again")]
    return bool(states) and states[-1] == "dark"


def arrived(rows, got):
    """Compare the letters that were written down with those that arrived; return how many arrived again."""
    stages = Counter((row["home"], row["person"], row["channel"], row["asked_at_ms"], row["at_ms"]) for row in rows)
    assert max(stages.values()) == 1, "one stage has two letters: two keys"
    by_key = {row["key"]: row for row in rows}
    keys = Counter(one.key for one in got)
    assert set(keys) <= set(by_key), "something arrived that is written down nowhere"
    bodies = {(one.key, one.text.splitlines()[0]) for one in got}
    assert len(bodies) == len(keys), "one key, two messages"
    for row in rows:
        if row["sent_ms"] is not None:
            assert row["key"] in keys, f"marked as sent, never arrived: {row}"
        elif row["ended_ms"] is not None:
            assert row["why"] in ("a newer one takes its place", "somebody has answered"), row
    return sum(times - 1 for times in keys.values())
