"""Commands: sent again until the broker has them, and until the part agrees where it can; given up with a word."""

import asyncio
from contextlib import asynccontextmanager

import pytest
from tests.trial_home import PLAN, ManualClock, running, turn

from stillwell.store.store import open_store
from stillwell.watch.commands import MOST_ATTEMPTS, TOO_LATE_MS, Commander
from stillwell.watch.inbox_mqtt import NotConnected
from stillwell.watch.payload import Report

PLAIN = PLAN.replace(
    'commands = { topic = "lamps/set", on = "ON", off = "OFF", confirm = "2s" }',
    'reads = [{ topic = "l", signal = "on" }]',
)


class Wire:
    """A broker that can be away."""

    def __init__(self):
        self.there, self.sent = True, []

    async def publish(self, topic, payload):
        if not self.there:
            raise NotConnected
        self.sent.append((topic, payload))


@asynccontextmanager
async def commanding(tmp_path, text=PLAN):
    wire = Wire()
    store = open_store(str(tmp_path / "store.db"), owner=True)
    async with running(store, ManualClock(), text) as watch:
        commander = Commander(watch, wire.publish)

        async def go(ms=0):
            watch.clock.ms += ms
            await turn(watch)
            for row in watch.commands.due(watch.now()):
                await commander._try(row)
            await turn(watch)

        yield watch, wire, go


async def rows(watch):
    await turn(watch)
    return await watch.ask(watch.store.commands_between, 0, 2**50)


def test_the_part_agrees(tmp_path):
    async def scene():
        async with commanding(tmp_path) as (watch, wire, go):
            watch.hand_in([Report("help.pressed", 1.0)])
            await go()
            assert wire.sent == [("lamps/set", "ON")]
            await watch.hand_in([Report("lamp.on", 0.0)])  # its old state, said once more
            await go()
            assert len(watch.commands) == 1
            await watch.hand_in([Report("lamp.on", 1.0)])
            await go(10)
            (row,) = await rows(watch)
            return row, len(watch.commands)

    row, waiting = asyncio.run(scene())
    assert row.confirmed_ms is not None
    assert (row.attempts, waiting) == (1, 0)


def test_without_an_answer_it_is_sent_again_and_in_the_end_given_up_and_said(tmp_path):
    async def scene():
        async with commanding(tmp_path) as (watch, wire, go):
            watch.hand_in([Report("help.pressed", 1.0)])
            await go()
            for _ in range(MOST_ATTEMPTS + 3):
                await go(2_001)
            happened = await watch.ask(lambda: [fact.what for fact in watch.store.last_facts(5)])
            return wire.sent, (await rows(watch))[0], happened

    sent, row, happened = asyncio.run(scene())
    assert sent == [("lamps/set", "ON")] * MOST_ATTEMPTS
    assert row.ended_ms is not None
    assert "does not say" in row.why
    assert "lamp could not be switched on" in happened


def test_a_part_that_confirms_nothing_is_done_when_the_broker_has_it(tmp_path):
    async def scene():
        async with commanding(tmp_path, PLAIN) as (watch, wire, go):
            watch.hand_in([Report("help.pressed", 1.0)])
            await go()
            return wire.sent, (await rows(watch))[0], len(watch.commands)

    sent, row, waiting = asyncio.run(scene())
    assert sent == [("stillwell/command/lamp", "on")]
    assert row.ended_ms is not None
    assert waiting == 0


def test_a_broker_that_is_away_is_tried_again_at_growing_intervals(tmp_path):
    async def scene():
        async with commanding(tmp_path) as (watch, wire, go):
            wire.there = False
            watch.hand_in([Report("help.pressed", 1.0)])
            await go()
            tries = [watch.commands.all()[0].next_try_ms - watch.now()]
            for _ in range(6):
                await go(tries[-1])
                tries.append(watch.commands.all()[0].next_try_ms - watch.now())
            wire.there = True
            await go(tries[-1])
            return tries, wire.sent

    tries, sent = asyncio.run(scene())
    assert tries == [2_000, 4_000, 8_000, 16_000, 32_000, 60_000, 60_000]
    assert sent == [("lamps/set", "ON")]


def test_too_late_is_given_up(tmp_path):
    lasting = PLAN.replace("lamp on for 5min", "lamp on")

    async def scene():
        async with commanding(tmp_path, lasting) as (watch, wire, go):
            wire.there = False
            watch.hand_in([Report("help.pressed", 1.0)])
            await go()
            wire.there = True
            await go(TOO_LATE_MS + 1)
            return wire.sent, (await rows(watch))[0].why

    assert asyncio.run(scene()) == ([], "it could not be sent in time")


def test_a_newer_command_takes_the_place_of_one_that_waits(tmp_path):
    async def scene():
        async with commanding(tmp_path) as (watch, wire, go):
            wire.there = False
            watch.hand_in([Report("help.pressed", 1.0)])
            await go()
            wire.there = True
            await go(5 * 60_000)  # "on for 5min" is over
            return wire.sent, [(row.switch_on, row.why) for row in await rows(watch)]

    sent, found = asyncio.run(scene())
    assert sent == [("lamps/set", "OFF")]
    assert found[0] == (True, "another command followed")


@pytest.mark.parametrize("value", [None, 0.0])
def test_a_report_that_does_not_agree_confirms_nothing(tmp_path, value):
    async def scene():
        async with commanding(tmp_path) as (watch, _, go):
            watch.hand_in([Report("help.pressed", 1.0)])
            await go()
            await watch.hand_in([Report("lamp.on", value), Report("tap.wet", 0.0)])
            await go()
            return len(watch.commands)

    assert asyncio.run(scene()) == 1
