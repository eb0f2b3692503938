"""A full disk: the watch says so, goes on deciding from memory, and writes everything once there is room."""

import asyncio

import pytest
from tests.trial_home import HOUR_MS, START_MS, ManualClock, running, turn

from stillwell.store.database import StoreTrouble
from stillwell.store.rows import EventRow
from stillwell.store.store import open_store
from stillwell.watch.health import STORE, Health
from stillwell.watch.orders import Orders
from stillwell.watch.payload import Report


@pytest.fixture
def file_store(tmp_path):
    return open_store(str(tmp_path / "store.db"), owner=True)


def let_grow(store, pages):
    """Let the database have so many pages (of 4 KiB) more, and no more than that."""
    connection = store._database._connection
    there = connection.execute("PRAGMA page_count").fetchone()[0]
    connection.execute(f"PRAGMA max_page_count = {there + pages}")


def test_the_store_says_that_there_is_no_room(file_store):
    let_grow(file_store, 1)
    with pytest.raises(StoreTrouble) as trouble:
        file_store.write([EventRow(seq, seq, "hall_pir.movement", 1.0) for seq in range(1, 10_000)])
    assert trouble.value.full
    assert file_store.last_seq() == 0
    file_store.close()


def test_the_watch_goes_on_from_memory(file_store):
    async def scene():
        async with running(file_store, ManualClock(), retry_s=0.0) as watch:
            health = Health(watch)
            await turn(watch)
            let_grow(file_store, 0)
            for number in range(3_000):
                watch.hand_in([Report("hall_pir.movement", 1.0)])
                watch.clock.ms += 1
                if number % 500 == 0:
                    await turn(watch)
            await turn(watch)
            assert watch.ledger.trouble is not None
            assert watch.ledger.kept > 1_000
            await health.look()
            assert STORE in watch.trouble
            told = {row.alarm for row in watch.messages.all()}
            assert STORE in told  # the keepers of the system get a message although it cannot be stored

            assert await watch.hand_in([Report("tap.wet", 1.0)]) is False  # acknowledged, but not on the disk
            await turn(watch)
            assert [row.person for row in watch.messages.all() if row.alarm == "Water"] == ["ben"]
            await Orders(watch).answer("Water", "ben", "looking", token="once")

            let_grow(file_store, 10_000)
            await turn(watch)
            assert watch.ledger.trouble is None
            assert watch.ledger.kept == 0
            assert watch.ledger.lost == 0
            await health.look()
            assert watch.trouble == {}
            return await watch.ask(lambda: (list(file_store.events_after(0)), file_store.answer("once")))

    events, answer = asyncio.run(scene())
    assert [row.seq for row in events] == list(range(1, 3_002))
    assert [row.at_ms for row in events] == sorted(row.at_ms for row in events)
    assert answer.by_whom == "ben"


def test_what_was_kept_while_it_was_full_is_resumed_from(tmp_path):
    url = str(tmp_path / "store.db")

    async def full():
        store = open_store(url, owner=True)
        async with running(store, ManualClock(), retry_s=0.0) as watch:
            await turn(watch)
            let_grow(store, 0)
            await watch.hand_in([Report("tap.wet", 1.0)])
            await turn(watch)
            let_grow(store, 100)

    async def after():
        async with running(open_store(url, owner=True), ManualClock(START_MS + HOUR_MS)) as watch:
            return str(watch.home.alarms["Water"].life.state)

    asyncio.run(full())
    assert asyncio.run(after()) == "unacknowledged"


def test_memory_is_bounded_and_what_is_let_go_is_counted(file_store):
    async def scene():
        async with running(file_store, ManualClock(), retry_s=3600.0) as watch:
            watch.ledger._most_kept = 2_000
            await turn(watch)
            let_grow(file_store, 0)
            for _ in range(8):
                for _ in range(1_000):
                    watch.hand_in([Report("hall_pir.movement", 1.0)])
                    watch.clock.ms += 1
                await turn(watch)
            watch.hand_in([Report("tap.wet", 1.0)])
            await turn(watch)
            kept, lost = watch.ledger.kept, watch.ledger.lost
            assert any(row.alarm == "Water" for row in watch.messages.all())
            let_grow(file_store, 10_000)
            watch.ledger._retry_at = 0.0
            await turn(watch)
            return kept, lost, await watch.ask(lambda: len(list(file_store.events_after(0))))

    kept, lost, stored = asyncio.run(scene())
    assert kept <= 2_100
    assert lost > 5_000
    assert stored == 8_001 - lost
