"""Invented parts at a real broker, and a watch that takes them for real ones."""

import asyncio
import json
import os
import signal
import subprocess
import sys
from contextlib import asynccontextmanager
from pathlib import Path

import pytest
from tests.live.broker import free_port, until
from tests.live.test_mqtt import connected
from tests.trial_home import PLAN, START_MS, turn

from stillwell.plan.read import read_plan
from stillwell.problem import Refusal
from stillwell.simulate.events import FOR_EVER_MS, Break
from stillwell.store.store import open_store
from stillwell.watch.clock import FastClock
from stillwell.watch.played import Part, PlayedClock, Player
from stillwell.watch.settings import Broker
from stillwell.watch.trial import read_time, tell_time

ROOT = Path(__file__).parents[2]
SPEED = 3_600.0
MINUTE_MS = 60_000
TRIAL = PLAN.replace("3h", "30min")


@asynccontextmanager
async def on_trial(mosquitto, tmp_path):
    """A watch whose time goes an hour a second, and says so."""
    clock, settings = FastClock(START_MS, SPEED), Broker(port=mosquitto.port)
    store = open_store(str(tmp_path / "store.db"), owner=True)
    async with connected(store, settings, clock, TRIAL) as (watch, inbox):
        await inbox.connected.wait()
        telling = asyncio.create_task(tell_time(clock, inbox.publish, settings.prefix, 0.05))
        try:
            yield watch, inbox
        finally:
            telling.cancel()


def player(mosquitto, write, said, speed=None):
    plan = read_plan(TRIAL, "home.toml")
    return Player(plan, Broker(port=mosquitto.port), write, speed, lambda at_ms, what: said.append((at_ms, what)))


async def until_true(condition):
    async with asyncio.timeout(20):
        while not condition():  # noqa: ASYNC110 - other processes are waited for
            await asyncio.sleep(0.01)


def test_what_is_played_comes_to_the_watch_at_its_time(mosquitto, tmp_path):
    said, begun = [], []

    def write(now_ms):
        begun.append(now_ms)
        reports = [(now_ms, "hall_pir.movement", 1.0), (now_ms + 60 * MINUTE_MS, "tap.wet", 1.0)]
        return Part(reports, [(now_ms + 60 * MINUTE_MS, "water: it is wet")], (), now_ms + 90 * MINUTE_MS)

    async def scene():
        async with on_trial(mosquitto, tmp_path) as (watch, _):
            played = await player(mosquitto, write, said).run()
            await until_true(lambda: watch.status().events >= 3)
            await turn(watch)
            rows = await watch.ask(lambda: [(row.at_ms, row.signal) for row in watch.store.events_after(0)])
            return played, rows, {row.alarm for row in watch.messages.all()}

    played, rows, alarms = asyncio.run(scene())
    # The hall's message holds its battery too, as the plan reads both there.
    assert [name for _, name in rows] == ["hall_pir.movement", "hall_pir.battery", "tap.wet"]
    assert played.reports == 2
    # An hour of played time is a second here; so far apart they come, give or take the machine's breath.
    assert 40 * MINUTE_MS < rows[2][0] - rows[0][0] < 300 * MINUTE_MS
    assert alarms == {"No sign of life", "Water"}
    assert [what for _, what in said if "water" in what] == ["water: it is wet"]
    assert "3600 times as fast" in said[0][1]
    assert begun[0] >= START_MS


@pytest.mark.parametrize(("broken", "obeys"), [(None, True), ("late", True), ("lost", False), ("stuck", False)])
def test_a_lamp_obeys_and_says_so_unless_it_is_broken(mosquitto, tmp_path, broken, obeys):
    said = []

    def write(now_ms):
        breaks = [Break("lamp", broken, frozenset({"lamp"}), now_ms, FOR_EVER_MS)] if broken else []
        return Part([], [(now_ms, "begun"), (now_ms + 10**9, "never")], breaks, now_ms)

    async def scene():
        async with on_trial(mosquitto, tmp_path) as (watch, inbox):
            playing = asyncio.create_task(player(mosquitto, write, said).run())
            await until_true(lambda: any(what == "begun" for _, what in said))
            await inbox.publish("lamps/set", "DIM")
            await inbox.publish("lamps/set", "ON")
            await until_true(lambda: any(what.startswith("lamp ") for _, what in said))
            if obeys:
                await until_true(lambda: watch.status().events)
            playing.cancel()
            await asyncio.gather(playing, return_exceptions=True)
            await turn(watch)
            return await watch.ask(lambda: [(row.signal, row.value) for row in watch.store.events_after(0)])

    assert asyncio.run(scene()) == ([("lamp.on", 1.0)] if obeys else [])
    words = next(what for _, what in said if what.startswith("lamp "))
    assert words == (
        "lamp goes on, as commanded" if obeys else f"lamp is told to go on, and does nothing: it is {broken}"
    )


def test_when_the_broker_goes_it_says_so_and_goes_on_when_it_is_back(mosquitto):
    said = []

    def write(now_ms):
        every_minute = range(now_ms, now_ms + 10**9, MINUTE_MS)
        return Part([(at_ms, "tap.wet", 0.0) for at_ms in every_minute], [(now_ms, "begun")], (), now_ms)

    async def scene():
        one = player(mosquitto, write, said, speed=100.0)
        playing = asyncio.create_task(one.run())
        await until_true(lambda: one.played.reports > 3)
        mosquitto.kill()
        await until_true(lambda: one.played.unsaid > 1)
        mosquitto.start()
        before = one.played.reports
        await until_true(lambda: one.played.reports > before + 3)
        playing.cancel()
        await asyncio.gather(playing, return_exceptions=True)

    asyncio.run(scene())
    assert any("the broker is gone" in what for _, what in said)
    assert any("no watch on trial is here" in what for _, what in said)


def test_a_speed_other_than_the_watchs_is_refused(mosquitto, tmp_path):
    async def scene():
        async with on_trial(mosquitto, tmp_path):
            await player(mosquitto, lambda _now: Part([], [], (), 0), [], speed=60.0).run()

    with pytest.raises(Refusal, match="goes 3600 times as fast"):
        asyncio.run(scene())


def test_without_a_broker_it_says_what_to_start():
    plan = read_plan(PLAN, "home.toml")
    nobody = Player(plan, Broker(port=free_port()), lambda _now: Part([], [], (), 0), None, lambda *_: None)
    with pytest.raises(Refusal, match="Start stillwell watch"):
        asyncio.run(nobody.run())


@pytest.mark.parametrize(
    "payload",
    [b"", b"[]", b"7", b'{"now_ms": 1.5, "speed": 2}', b'{"now_ms": 5}', b"\xff", b'{"now_ms": 5, "speed": 0}'],
)
def test_a_time_that_is_none_is_not_taken(payload):
    assert read_time(payload) is None


def test_the_played_clock_goes_on_from_what_it_is_set_to():
    clock = PlayedClock(START_MS, 1.0)
    clock.set(5_000_000, 1e-9)
    assert clock.now_ms() == 5_000_000
    assert clock.seconds_until(4_000_000) == 0.0
    assert clock.seconds_until(5_001_000) > 1e6


def started(*arguments):
    command = [sys.executable, "-c", "import sys; from stillwell.cli import main; sys.exit(main())", "simulate"]
    return subprocess.Popen(
        [*command, ROOT / "examples" / "cottage", "--live", *arguments],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT / "src")},
    )


def test_the_command_plays_until_it_is_told_to_end(mosquitto):
    process = started(
        "--broker", f"127.0.0.1:{mosquitto.port}", "--speed", "3600", "--hazard", "smoke in 5min", "--json"
    )
    log = mosquitto.config.parent / "mosquitto.db"
    until(lambda: log.exists() or process.poll() is not None, "the broker has something to keep")
    process.send_signal(signal.SIGTERM)
    out, error = process.communicate(timeout=30)
    assert (process.returncode, error) == (0, "")
    assert set(json.loads(out)) == {"messages", "commands", "unsaid"}


def test_the_command_refuses_in_words(mosquitto):
    process = started("--broker", f"127.0.0.1:{mosquitto.port}", "--fault", "hall_pri lost")
    out, error = process.communicate(timeout=30)
    assert process.returncode == 2
    assert "hall_pir" in error
    assert out == ""
