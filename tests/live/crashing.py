"""Kill a watch again and again under load, then look whether anything was lost.

Reports go through a real broker into a real store; one message handed over is one line in a file. What must hold is
worked out from the reports alone: every one is stored once, in the order of its part, each alarm is raised at the
very millisecond that the stored reports demand, and the calling has all its stages, each at its time.
"""

import random
import signal
import subprocess
import sys
import threading
import time
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion
from tests.trial_home import PLAN

from stillwell.store.store import open_store
from stillwell.watch.clock import wall_ms

ROOT = Path(__file__).parents[2]
WAIT_MS = 2_000
QUIET_MS = 1_500
TEXT = PLAN.replace('wait = "5min"', 'wait = "2s"').replace("no sign_of_life for 3h", "no sign_of_life for 1500ms")


@dataclass
class Publisher:
    """Publishes numbered reports at QoS 1 from a thread, and again what a killed broker had not taken."""

    port: int
    seed: int
    sent: int = 0

    def __post_init__(self):
        self._client = Client(CallbackAPIVersion.VERSION2, client_id="parts", clean_session=False)
        self._client.max_queued_messages_set(0)
        self._on_the_way = []
        self._client.reconnect_delay_set(0.05, 0.2)
        self._client.connect("127.0.0.1", self.port)
        self._client.loop_start()
        self._ending = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def _run(self):
        draw = random.Random(self.seed)
        while not self._ending.is_set():
            for _ in range(draw.randrange(1, 40)):
                self.sent += 1
                body = f'{{"seen": true, "battery": 80, "n": {self.sent}}}'
                self._on_the_way.append(self._client.publish("radio/hall", body, qos=1))
            # Now and then silence long enough for an alarm.
            self._ending.wait(draw.choice([0.01, 0.02, 0.05, 0.1, 2.2]) if draw.random() < 0.3 else 0.02)

    def end(self):
        """Publish no more; wait until the broker has everything."""
        self._ending.set()
        self._thread.join()
        deadline = time.monotonic() + 30
        while self._on_the_way:
            assert time.monotonic() < deadline, f"the broker did not take {len(self._on_the_way)} of {self.sent}"
            time.sleep(0.01)
            self._on_the_way = [one for one in self._on_the_way if not one._published]
        self._client.loop_stop()
        self._client.disconnect()


@dataclass
class Outcome:
    """What was found in the end."""

    rounds: int
    published: int
    stored: int
    alarms: int
    messages: int
    handed_over: int
    twice: int
    seconds: float


def run(folder, store_url, broker, rounds, seed=1, broker_kills=0.0):
    """Kill a watch ``rounds`` times at random instants; return what was found, or fail."""
    draw, begun = random.Random(seed), time.monotonic()
    plan, sent = folder / "home.toml", folder / "sent"
    plan.write_text(TEXT, "utf-8")
    command = [sys.executable, ROOT / "tests/live/child.py", plan, store_url, str(broker.port), sent]
    log = folder / "log"

    def start():
        with log.open("ab") as errors:
            path = f"{ROOT}:{ROOT / 'src'}"
            return subprocess.Popen(
                command, cwd=ROOT, env={"PYTHONPATH": path}, stdout=subprocess.DEVNULL, stderr=errors
            )

    child = start()
    try:
        subscribed(log, child)  # before, the broker keeps nothing for it
        publisher = Publisher(broker.port, seed)
        for _ in range(rounds):
            time.sleep(draw.uniform(0.0, 2.0))  # from before its first line to well under load
            if draw.random() < broker_kills:
                broker.kill()
                time.sleep(draw.uniform(0.0, 0.3))
                broker.start()
            child.send_signal(signal.SIGKILL)
            child.wait()
            child = start()
        publisher.end()
        settle(store_url, publisher.sent)
        child.send_signal(signal.SIGTERM)
        assert child.wait(20) == 0, log.read_text("utf-8")
    finally:
        child.kill()
        child.wait()
    found = look(store_url, sent, publisher)
    return Outcome(rounds, publisher.sent, *found, time.monotonic() - begun)


def subscribed(log, child):
    """Wait until the broker knows the watch."""
    deadline = time.monotonic() + 20
    while "connected to the broker" not in log.read_text("utf-8"):
        assert child.poll() is None, log.read_text("utf-8")
        assert time.monotonic() < deadline, "the watch did not connect"
        time.sleep(0.01)


def settle(store_url, wanted):
    """Wait until the last report is stored and what follows from its silence is sent."""
    deadline = time.monotonic() + 60
    while True:
        store = open_store(store_url)
        events = [row for row in store.events_after(0) if row.signal == "hall_pir.movement"]
        last = max((row.source_seq or 0 for row in events), default=0)
        quiet = bool(events) and wall_ms() > events[-1].at_ms + QUIET_MS + 2 * WAIT_MS
        waiting = store.open_messages()
        store.close()
        if last == wanted and quiet and not waiting:
            return
        assert time.monotonic() < deadline, f"stored up to {last} of {wanted}, {len(waiting)} messages wait"
        time.sleep(0.1)


def look(store_url, sent_file, publisher):
    """Compare the store and the messages handed over with what the reports demand."""
    store = open_store(store_url)
    events = list(store.events_after(0))
    movement = [row for row in events if row.signal == "hall_pir.movement"]
    counted = Counter(row.source_seq for row in movement)
    assert set(counted) == set(range(1, publisher.sent + 1)), "a report that the broker had is not stored"
    assert max(counted.values()) == 1, "a report is stored twice"
    assert [row.at_ms for row in events] == sorted(row.at_ms for row in events)

    facts = store.facts(0, 2**50)
    begun_ms = next(row.at_ms for row in facts if row.what == "watch begun")
    ended_ms = next(row.at_ms for row in reversed(facts) if row.what == "watch ended")
    raised = [row.at_ms for row in facts if row.what == "raised" and row.subject == "No sign of life"]
    assert raised == demanded(begun_ms, ended_ms, [row.at_ms for row in movement if not row.late])

    messages = [row for row in store.messages_between(0, 2**50) if row.alarm == "No sign of life"]
    stages = {row.at_ms for row in messages}
    asked = min(stages)
    assert stages == set(range(asked, ended_ms + 1, WAIT_MS)), "a stage of the calling is missing or moved"
    assert asked == raised[0]

    lines = [line.split(" ", 2) for line in Path(sent_file).read_text("utf-8").splitlines()]
    handed = Counter(key for key, *_ in lines)
    to_send = {row.key: row for row in store.messages_between(0, 2**50) if row.why == ""}
    missing = [row for key, row in to_send.items() if key not in handed]
    assert not missing, f"never handed over: {missing[:3]}"
    assert set(handed) <= {row.key for row in store.messages_between(0, 2**50)}, "handed over, but not in the outbox"
    assert len({tuple(line) for line in lines}) == len(handed), "one key, two messages"
    store.close()
    twice = sum(times - 1 for times in handed.values())
    return len(movement), len(raised), len(messages), len(lines), twice


def demanded(begun_ms, ended_ms, moved_ms):
    """When the alarm must be raised: at each instant at which there has been no movement for so long.

    The start of watching counts as a sign; the end of the silence is where the condition ends.
    """
    instants = [begun_ms, *moved_ms]
    following = [*moved_ms, ended_ms + 1]
    return [at + QUIET_MS for at, until in zip(instants, following, strict=True) if at + QUIET_MS < until]
