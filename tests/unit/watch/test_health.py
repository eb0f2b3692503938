"""What ails the watch itself is kept as a fact when it begins and ends, and told to its keepers when it lasts."""

import asyncio

from tests.trial_home import ManualClock, running, turn

from stillwell.store.store import open_store
from stillwell.watch import health as module
from stillwell.watch.health import CLOCK, DENIED, NO_BROKER, NO_ROOM, SLOW, Health


def scene(tmp_path, play):
    async def run():
        store = open_store(str(tmp_path / "store.db"), owner=True)
        async with running(store, ManualClock()) as watch:
            return await play(watch)

    return asyncio.run(run())


async def facts(watch):
    await turn(watch)
    return await watch.ask(lambda: [(row.what, row.why) for row in watch.store.facts(0, 2**50)])


def told(watch):
    return [(row.alarm, row.person) for row in watch.messages.all()]


def test_a_short_loss_of_the_broker_is_a_fact_and_nobody_is_told(tmp_path):
    async def play(watch):
        there = False
        health = Health(watch, lambda: there)
        await health.look()
        assert list(watch.trouble) == [NO_BROKER]
        assert watch.status().trouble[0].since_ms == watch.now()
        there = True
        watch.clock.ms += 60_000
        await health.look()
        return watch.trouble, told(watch), await facts(watch)

    trouble, messages, happened = scene(tmp_path, play)
    assert trouble == {}
    assert messages == []
    assert [what for what, _ in happened][1:] == [NO_BROKER, f"over: {NO_BROKER}"]


def test_a_long_loss_is_told_once_and_its_end_too(tmp_path):
    async def play(watch):
        there = False
        health = Health(watch, lambda: there)
        for _ in range(5):
            await health.look()
            watch.clock.ms += 60_000
        during = told(watch)
        there = True
        await health.look()
        await turn(watch)
        return during, told(watch)

    during, after = scene(tmp_path, play)
    assert during == [(NO_BROKER, "ben")]
    assert sorted(after) == [(NO_BROKER, "ben"), (f"over: {NO_BROKER}", "ben")]


def test_everything_that_is_looked_at(tmp_path, monkeypatch):
    monkeypatch.setattr(module.shutil, "disk_usage", lambda _folder: type("Usage", (), {"free": 10})())

    async def play(watch):
        watch.clock.ahead = 120_000
        health = Health(watch, lambda: True, lambda: True, tmp_path)
        health.lag_s = 3.0
        await health.look()
        return set(watch.trouble)

    assert scene(tmp_path, play) == {DENIED, NO_ROOM, CLOCK, SLOW}


def test_a_jump_of_the_clock_is_kept(tmp_path):
    async def play(watch):
        watch.clock.jumps_ms.append(-3_600_000)
        await Health(watch).look()
        assert watch.clock.jumps_ms == []
        return await facts(watch)

    assert ("the clock was set", "by -3600 s") in scene(tmp_path, play)
