"""Beats to a keeper and its answers: the keeper's own code answers here, so both halves are held to each other."""

import asyncio
import io
import urllib.error

import pytest
from tests.trial_home import START_MS, ManualClock, running, turn

from stillwell import heartbeat
from stillwell.heartbeat import Answer
from stillwell.store.store import open_store
from stillwell.watch.beating import WARN_AFTER_MS
from stillwell.watch.heart import Heart, posting, why_not
from stillwell.watch.payload import Report
from stillwell.watch.settings import Keeper

KEY = b"0123456789abcdef"
KEEPER = Keeper(url="http://127.0.0.1:9", home="mill", key=KEY.decode())
MINUTE_MS = 60_000


class Outside:
    """A keeper that answers, or does not; it keeps what it heard."""

    def __init__(self, *, key=KEY, there=True):
        self.heard, self.key, self.there = [], key, there

    def __call__(self, data):
        beat = heartbeat.read(data, KEY)
        self.heard.append(beat)
        if not self.there:
            raise ConnectionRefusedError
        return heartbeat.sign_answer(Answer(beat.home, beat.boot, beat.seq, 5_000 + beat.seq, alive=True), self.key)


def play(folder, outside, scene, clock=None):
    async def run():
        store = open_store(str(folder / "store.db"), owner=True)
        said = []
        async with running(store, clock or ManualClock()) as watch:
            heart = Heart(
                watch, KEEPER, lambda: ["the disk is nearly full"], outside, lambda *what, **_: said.append(what)
            )
            beating = asyncio.create_task(heart.run())
            try:
                await scene(watch, heart)
            finally:
                beating.cancel()
        return said

    return asyncio.run(run())


async def beaten(outside, count):
    """Wait until so many beats went out; the heart looks at its clock by itself."""
    async with asyncio.timeout(20):
        while len(outside.heard) < count:  # noqa: ASYNC110 - what happens outside tells nobody here
            await asyncio.sleep(0.005)


def test_a_beat_says_how_the_home_is(tmp_path):
    outside = Outside()

    async def scene(watch, heart):
        await watch.hand_in([Report("tap.wet", 1.0)])
        await turn(watch)
        await beaten(outside, 1)
        async with asyncio.timeout(20):
            while heart.answered_ms is None:  # noqa: ASYNC110
                await asyncio.sleep(0.005)
        assert (heart.answered_ms, heart.silent) == (START_MS, False)

    said = play(tmp_path, outside, scene)
    beat = outside.heard[0]
    assert (beat.home, beat.seq, beat.at_ms, beat.keeper_ms) == ("mill", 1, START_MS, 0)
    assert beat.remarks == ("the disk is nearly full",)
    assert beat.alarms in ((), ("Water",))  # before or after the report: both are the truth of that moment
    assert said[0] == ("the keeper answers",)


def test_the_number_of_the_start_grows_over_a_restart(tmp_path):
    """Two starts within one second: the second number still is the greater one."""
    boots = []
    for _ in range(2):
        outside = Outside()

        async def scene(_watch, _heart, outside=outside):
            await beaten(outside, 1)

        play(tmp_path, outside, scene)
        boots.append(outside.heard[0].boot)
    assert boots == [START_MS // 1000, START_MS // 1000 + 1]


@pytest.mark.parametrize("outside", [Outside(there=False), Outside(key=b"another key 0123456")])
def test_who_does_not_answer_or_forges_is_silent_after_ten_minutes(tmp_path, outside):
    async def scene(watch, heart):
        await beaten(outside, 1)
        assert not heart.silent
        watch.clock.ms = START_MS + WARN_AFTER_MS - 1
        await turn(watch)
        assert not heart.silent
        watch.clock.ms = START_MS + WARN_AFTER_MS
        await turn(watch)
        assert heart.silent
        assert heart.answered_ms is None

    assert play(tmp_path, outside, scene)[0] == ("no answer from the keeper",)


def test_a_watch_that_no_longer_goes_round_beats_no_more(tmp_path):
    """The store hangs: nothing is decided, nobody is told. Outside it must look as dark as it is."""
    outside = Outside()

    async def run():
        store = open_store(str(tmp_path / "store.db"), owner=True)
        async with running(store, ManualClock()) as watch:
            said, stuck, free = [], asyncio.Event(), asyncio.Event()
            write = watch.ledger.write

            async def hanging(entries):
                if outside.heard:
                    stuck.set()
                    await free.wait()
                return await write(entries)

            watch.ledger.write = hanging
            heart = Heart(watch, KEEPER, list, outside, lambda what, **_: said.append(what), turns_within_s=0.05)
            beating = asyncio.create_task(heart.run())
            await beaten(outside, 1)
            watch.clock.ms += 2 * MINUTE_MS
            await stuck.wait()
            async with asyncio.timeout(20):
                while "no beat, for the watch does not go round" not in said:  # noqa: ASYNC110
                    await asyncio.sleep(0.005)
            beats = len(outside.heard)
            free.set()
            await beaten(outside, beats + 1)
            beating.cancel()
            return beats

    assert asyncio.run(run()) == 1


def test_a_keeper_that_is_not_there_is_an_oserror():
    with pytest.raises(OSError, match=r".*"):
        posting(KEEPER)(b"x")


def test_why_not_in_a_few_words():
    refused = urllib.error.HTTPError("http://x", 403, "no", {}, io.BytesIO(b"refused: forged\n"))
    assert why_not(refused) == "it refuses (403): refused: forged"
    assert why_not(urllib.error.URLError("no route")) == "no connection: no route"
    assert why_not(TimeoutError()) == "no connection: TimeoutError"
