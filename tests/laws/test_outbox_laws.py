"""The outbox under crashes: whatever instant everything stops at, each message goes out at least once, by one key.

The watch around it is a small model: a store is a table of rows that only a write changes, and a crash is an instant
after which nothing has any effect any more. Time is moved by whoever waits for it.
"""

import asyncio
import threading
from collections import Counter
from dataclasses import replace
from types import SimpleNamespace

from hypothesis import given, settings
from hypothesis import strategies as st
from tests.trial_home import PLAN, START_MS

from stillwell.channels.notice import DELIVERED, failed
from stillwell.plan.read import read_plan
from stillwell.store.rows import MessageRow
from stillwell.watch.home import Home
from stillwell.watch.outbox import FIRST_WAIT_MS, LONGEST_WAIT_MS, Outbox, marked, wait_after
from stillwell.watch.outgoing import Outgoing

HOME = Home(read_plan(PLAN, "home.toml"), START_MS)
HOME.report(START_MS + 1, [("tap.wet", 1.0)])
ASKED_MS = HOME.alarms["Water"].life.asked_at_ms
ADDRESSES = {person: {"text": person, "call": person} for person in ("ben", "eve")}


def row(number, person, channel, alarm="Water"):
    at_ms = ASKED_MS + number
    return MessageRow(f"{alarm} {person} {channel} {number}", alarm, person, channel, at_ms, ASKED_MS, ASKED_MS)


class World:
    """What outlives a crash: the rows of the store, and what people were given."""

    def __init__(self, rows, failures):
        self.rows = {one.key: one for one in rows}
        self.failures = failures
        self.given = Counter()
        self.tries = 0
        self.lock = threading.Lock()

    def open(self):
        return [one for one in self.rows.values() if one.ended_ms is None]


class Run:
    """One run of the program until its crash, or until nothing is open. ``last_step``: where it crashes."""

    def __init__(self, world, last_step):
        self.world, self.last_step = world, last_step
        self.steps = 0
        self.over = asyncio.Event()
        self.loop = asyncio.get_running_loop()
        self.ms = max([ASKED_MS, *(one.next_try_ms for one in world.rows.values())])
        self.unwritten = []
        self.ready = asyncio.Event()
        self.ready.set()
        self.plan, self.home, self.clock = HOME.plan, HOME, self
        self.store = SimpleNamespace(messages_of_asking=lambda *_: list(world.rows.values()))
        self.messages = Outgoing(self.unwritten.append)
        self.messages.add(world.open())

    def alive(self):
        """Take a step; tell whether there was no crash yet."""
        with self.world.lock:
            self.steps += 1
            if self.last_step is not None and self.steps > self.last_step:
                self.loop.call_soon_threadsafe(self.over.set)
                return False
            return True

    def now(self):
        return self.ms

    def seconds_until(self, at_ms):
        self.ms = max(self.ms, at_ms)
        return 0.0

    async def ask(self, question, *args):
        return question(*args)

    async def order(self, do):
        if self.alive():
            for one in self.unwritten:
                self.world.rows[one.key] = one
            self.unwritten.clear()
            do(self.ms)
            self.alive()
        if not self.world.open():
            self.over.set()

    def channel(self, address, notice):
        if not self.alive():
            return failed("there was a crash")
        with self.world.lock:
            self.world.tries += 1
            fails = self.world.failures[self.world.tries - 1 : self.world.tries] == [True]
            if not fails:
                self.world.given[notice.key] += 1
        if not self.alive():
            return failed("there was a crash")
        return failed("no connection") if fails else DELIVERED

    async def go(self):
        if not self.world.open():
            return
        task = asyncio.create_task(Outbox(self, ADDRESSES, self.channel).run())
        await asyncio.wait_for(self.over.wait(), 30)
        task.cancel()
        await asyncio.wait([task])


rows = st.lists(
    st.tuples(
        st.sampled_from(["ben", "eve"]), st.sampled_from(["text", "call"]), st.sampled_from(["Water", "trouble"])
    ),
    min_size=1,
    max_size=6,
    unique=True,
).map(lambda them: [row(number, *one) for number, one in enumerate(them)])


@settings(max_examples=60)
@given(rows, st.lists(st.booleans(), max_size=6), st.lists(st.integers(0, 24), max_size=4))
def test_every_message_goes_out_at_least_once_by_its_own_key(rows, failures, crashes):
    world = World(rows, failures)

    async def lives():
        for last_step in [*crashes, None]:
            await Run(world, last_step).go()

    asyncio.run(lives())
    assert set(world.given) == {one.key for one in rows}
    assert all(one.sent_ms is not None for one in world.rows.values())
    # Only a crash gives somebody the same message twice, and at most once for each crash.
    assert all(times <= 1 + len(crashes) for times in world.given.values())


@given(st.integers(0, 60), st.floats(0, 1))
def test_waiting_grows_and_ends_growing(attempts, draw):
    wait_ms = wait_after(attempts, draw)
    assert 0.75 * FIRST_WAIT_MS <= wait_ms <= LONGEST_WAIT_MS
    assert wait_ms <= wait_after(attempts + 1, 0.0)


def test_waiting_doubles_from_the_first():
    assert [wait_after(attempts, 0.0) for attempts in range(10)] == [
        *(2_000 * 2**attempts for attempts in range(8)),
        300_000,
        300_000,
    ]


@given(st.booleans(), st.integers(0, 100), st.integers(1, 10**6))
def test_a_try_either_ends_a_message_or_sets_the_next(ok, attempts, wait_ms):
    before = replace(row(0, "ben", "text"), attempts=attempts)
    after = marked(before, DELIVERED if ok else failed("why"), START_MS, wait_ms)
    assert after.attempts == attempts + 1
    assert after.key == before.key
    assert (after.sent_ms, after.ended_ms) == ((START_MS, START_MS) if ok else (None, None))
    assert after.why == ("" if ok else "why")
    if not ok:
        assert after.next_try_ms == START_MS + wait_ms
