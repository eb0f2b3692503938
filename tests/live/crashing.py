"""Kill a watch and its broker again and again under load, then look whether anything was lost.

Reports go through a real broker into a real store; messages go to a webhook and a mail server, which now and then send
them back. What must hold is worked out from the reports alone: every one is stored once, in the order of its part,
each alarm is raised at the very millisecond that the stored reports demand, the calling has all its stages, each at
its time, and each message has arrived, or a newer one of its kind has.
"""

import os
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
from tests.live.broker import Mosquitto, free_port
from tests.live.receiver import Receiver
from tests.trial_home import PLAN

from stillwell.store.store import look_into
from stillwell.watch.clock import wall_ms

ROOT = Path(__file__).parents[2]
WAIT_MS = 2_000
QUIET_MS = 1_500
REFUSING = 0.1
MOST_ON_THE_WAY = 200
CONNECTED = '"connected to the broker"'
AT_WORK = 0.5
"""In so many rounds the watch is waited for, however slowly it starts, so that it is killed at work."""

STILLWELL = Path(sys.executable).with_name("stillwell")
TEXT = (
    PLAN.replace('wait = "5min"', 'wait = "2s"')
    .replace("no sign_of_life for 3h", "no sign_of_life for 1500ms")
    .replace('name = "Eve"\nchannels = { text = "30s" }', 'name = "Eve"\nchannels = { mail = "30s" }')
    .replace('{ whom = ["ben", "eve"], by = "text", wait = "2s" }', '{ whom = ["eve"], by = "mail", wait = "2s" }')
)


def settings_for(folder, broker_port, receiver):
    """Write the settings of a watch whose messages go to ``receiver``; return the file."""
    port = free_port()
    path = folder / "settings.toml"
    path.touch(mode=0o600)
    path.write_text(
        f"""
        link_key = "0123456789abcdef0123456789abcdef"
        [broker]
        port = {broker_port}
        [http]
        port = {port}
        public = "https://home.example"
        [mail]
        host = "127.0.0.1"
        port = {receiver.smtp_port}
        security = "none"
        sender = "watch@home.example"
        [people.ben]
        text = "{receiver.webhook("ben")}"
        [people.eve]
        mail = "eve@home.example"
        """,
        "utf-8",
    )
    return path


@dataclass
class Publisher:
    """Publishes numbered reports at QoS 1 from a thread, and again what a killed broker had not taken."""

    port: int
    seed: int
    sent: int = 0

    def __post_init__(self):
        self._numbers, self._taken = {}, [set()]
        self._client = Client(CallbackAPIVersion.VERSION2, client_id="parts", clean_session=False)
        self._client.on_publish = self._note_taken
        self._client.on_connect = lambda *_: self._taken.append(set())
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
                self._keep_pace()
                self.sent += 1
                body = f'{{"seen": true, "battery": 80, "n": {self.sent}}}'
                message = self._client.publish("radio/hall", body, qos=1)
                self._numbers[message.mid] = self.sent
                self._on_the_way.append(message)
            # Now and then silence long enough for an alarm.
            self._ending.wait(draw.choice([0.01, 0.02, 0.1, 0.5, 2.2]) if draw.random() < 0.2 else 0.1)

    def _note_taken(self, client, userdata, mid, reason_code, properties):
        """Note over which connection the broker said that it has a report."""
        self._taken[-1].add(self._numbers.get(mid, self.sent))

    def at_risk(self):
        """Return the reports that a broker took which was killed later.

        Even with the settings that save at each change it says that it has a report before it saves it; and what is
        on its way to a watch counts as no change (seen with Mosquitto 2.0.11): if both are killed, it is gone.
        """
        return set().union(*self._taken[:-1])

    def _keep_pace(self, most=MOST_ON_THE_WAY):
        """Wait for the broker: with the settings that survive a kill it writes all it holds for each message."""
        deadline = time.monotonic() + 300
        while len(self._on_the_way) > most:
            self._on_the_way = [one for one in self._on_the_way if not one._published]
            assert time.monotonic() < deadline, f"the broker did not take {len(self._on_the_way)} of {self.sent}"
            time.sleep(0.005)

    def go_on(self, reports):
        """Wait until so many more are published."""
        wanted, deadline = self.sent + reports, time.monotonic() + 60
        while self.sent < wanted:
            assert time.monotonic() < deadline, "nothing is published any more"
            time.sleep(0.02)

    def end(self):
        """Publish no more; wait until the broker has everything."""
        self._ending.set()
        self._thread.join()
        self._keep_pace(0)
        self._client.loop_stop()
        self._client.disconnect()


@dataclass
class Outcome:
    """What was found in the end."""

    rounds: int
    broker_rounds: int
    published: int
    stored: int
    lost_by_broker: int
    alarms: int
    messages: int
    arrived: int
    twice: int
    sent_back: int
    seconds: float


def run(folder, store_url, rounds, seed=1, broker_rounds=0):
    """Kill a watch ``rounds`` times at random instants, the broker ``broker_rounds`` times; return what was found.

    Each victim has its own instant: neither waits for the other to be back. Fails where anything is missing; of what
    was published, only reports that a killed broker took with it may be.
    """
    draw, begun = random.Random(seed), time.monotonic()
    receiver = Receiver(REFUSING, seed)
    broker = Mosquitto(folder, survives=broker_rounds > 0)
    plan = folder / "home.toml"
    plan.write_text(TEXT, "utf-8")
    settings = settings_for(folder, broker.port, receiver)
    command = [STILLWELL, "watch", plan, "--store", store_url, "--settings", settings]
    log = folder / "log"

    def start():
        with log.open("ab") as errors:
            # An installed copy of the program may be another one than the one under test.
            environment = os.environ | {"PYTHONPATH": str(ROOT / "src"), "PYTHONFAULTHANDLER": "1"}
            return subprocess.Popen(command, env=environment, stdout=subprocess.DEVNULL, stderr=errors)

    child, lives = start(), 1
    try:
        subscribed(log, child, lives)  # before, the broker keeps nothing for it
        publisher = Publisher(broker.port, seed)
        victims = ["watch"] * rounds + ["broker"] * broker_rounds
        draw.shuffle(victims)
        for victim in victims:
            if draw.random() < AT_WORK:
                subscribed(log, child, lives)
            time.sleep(draw.uniform(0.0, 1.6))  # from before its first line to well under load
            if victim == "broker":
                broker.kill()
                broker.start()
            else:
                child.send_signal(signal.SIGKILL)
                child.wait()
                lives = log.read_text("utf-8").count(CONNECTED) + 1
                child = start()
        publisher.go_on(60)
        publisher.end()
        settle(store_url, publisher.sent)
        child.send_signal(signal.SIGTERM)
        assert child.wait(20) == 0, log.read_text("utf-8")
    finally:
        child.kill()
        child.wait()
        broker.stop()
        receiver.close()
    found = look(store_url, receiver, publisher, publisher.at_risk() if broker_rounds else set())
    return Outcome(rounds, broker_rounds, publisher.sent, *found, receiver.refused, time.monotonic() - begun)


def subscribed(log, child, lives):
    """Wait until the broker has heard of the watch so often."""
    deadline = time.monotonic() + 120
    while log.read_text("utf-8").count(CONNECTED) < lives:
        assert child.poll() is None, log.read_text("utf-8")
        if time.monotonic() > deadline:
            child.send_signal(signal.SIGABRT)  # its last word is where it stands
            child.wait()
            raise AssertionError(f"the watch did not connect: {log.read_text('utf-8')[-6000:]}")
        time.sleep(0.01)


def settle(store_url, wanted):
    """Wait until the last report is stored and what follows from its silence is sent."""
    deadline, seq, last, last_ms = time.monotonic() + 90, 0, 0, 2**53
    while True:
        store = look_into(store_url)
        for row in store.events_after(seq):
            seq = row.seq
            if row.signal == "hall_pir.movement":
                last, last_ms = max(last, row.source_seq or 0), row.at_ms
        waiting = store.open_messages()
        store.close()
        if last == wanted and not waiting and wall_ms() > last_ms + QUIET_MS + 2 * WAIT_MS:
            return
        assert time.monotonic() < deadline, f"stored up to {last} of {wanted}, {len(waiting)} messages wait"
        time.sleep(0.1)


def look(store_url, receiver, publisher, may_be_lost):
    """Compare the store and the messages that arrived with what the reports demand.

    ``may_be_lost``: the numbers of reports that a killed broker may have taken with it.
    """
    store = look_into(store_url)
    events = list(store.events_after(0))
    movement = [row for row in events if row.signal == "hall_pir.movement"]
    counted = Counter(row.source_seq for row in movement)
    missing = set(range(1, publisher.sent + 1)) - set(counted)
    assert missing <= may_be_lost, f"reports that the broker had are not stored: {sorted(missing - may_be_lost)}"
    assert max(counted.values()) == 1, "a report is stored twice"
    assert [row.at_ms for row in events] == sorted(row.at_ms for row in events)

    facts = store.facts(0, 2**50)
    begun_ms = next(row.at_ms for row in facts if row.what == "watch begun")
    ended_ms = next(row.at_ms for row in reversed(facts) if row.what == "watch ended")
    raised = [row.at_ms for row in facts if row.what == "raised" and row.subject == "No sign of life"]
    assert raised == demanded(begun_ms, ended_ms, [row.at_ms for row in movement if not row.late])

    everything = store.messages_between(0, 2**50)
    messages = [row for row in everything if row.alarm == "No sign of life"]
    stages = {row.at_ms for row in messages}
    asked = min(stages)
    assert stages == set(range(asked, ended_ms + 1, WAIT_MS)), "a stage of the calling is missing or moved"
    assert asked == raised[0]
    twice = arrived(everything, receiver.got, ended_ms)
    store.close()
    return len(movement), len(missing), len(raised), len(messages), len(receiver.got), twice


def arrived(rows, got, ended_ms):
    """Compare the outbox with what arrived; return how many arrived again."""
    stages = Counter((row.alarm, row.person, row.channel, row.asked_at_ms, row.at_ms) for row in rows)
    assert max(stages.values()) == 1, "one stage has two messages: two keys"
    by_key = {row.key: row for row in rows}
    keys = Counter(one.key for one in got)
    assert set(keys) <= set(by_key), "something arrived that is not in the outbox"
    assert all(one.person == by_key[one.key].person for one in got), "a message reached somebody else"
    newest = {}
    for key in keys:
        kind = (by_key[key].alarm, by_key[key].person, by_key[key].channel)
        newest[kind] = max(newest.get(kind, 0), by_key[key].at_ms)
    for row in rows:
        marked = row.key in keys if row.sent_ms is not None else True
        assert marked, f"marked as sent, never arrived: {row}"
        in_time = row.at_ms > ended_ms - 2 * WAIT_MS and row.ended_ms is None  # begun as the watch ended
        kind = (row.alarm, row.person, row.channel)
        assert row.key in keys or newest.get(kind, 0) > row.at_ms or in_time, f"neither it nor a newer one came: {row}"
    return sum(times - 1 for times in keys.values())


def demanded(begun_ms, ended_ms, moved_ms):
    """When the alarm must be raised: at each instant at which there has been no movement for so long.

    The start of watching counts as a sign; the end of the silence is where the condition ends.
    """
    instants = [begun_ms, *moved_ms]
    following = [*moved_ms, ended_ms + 1]
    return [at + QUIET_MS for at, until in zip(instants, following, strict=True) if at + QUIET_MS < until]
