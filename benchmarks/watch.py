"""How fast a watch is, through a real Mosquitto into a store on this disk, each report durable before it is acted on.

Also as a ratio to what this disk can do: appends of 100 bytes, each forced to the disk. ``--fast`` for a quick look;
``--gate`` fails where a figure misses its mark. Figures of this kind depend on the disk: measure the one you use.
Writes its section of docs/benchmarks.md, unless ``--fast``.
"""

import argparse
import asyncio
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path
from statistics import quantiles
from typing import Self

import aiomqtt
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

sys.path.insert(0, str(Path(__file__).parents[1]))

from benchmarks.page import machine, table, write_section
from tests.live.broker import Mosquitto, free_port
from tests.trial_home import PLAN

from stillwell.plan.read import read_plan
from stillwell.store.rows import EventRow, PlanRow, StateRow
from stillwell.store.store import look_into, open_store
from stillwell.watch.clock import SystemClock, wall_ms
from stillwell.watch.home import Home
from stillwell.watch.inbox_mqtt import MqttInbox
from stillwell.watch.loop import Watch
from stillwell.watch.payload import Report
from stillwell.watch.resume import fingerprint
from stillwell.watch.settings import Broker

STILLWELL = Path(sys.executable).with_name("stillwell")
YEAR_MS = 365 * 86_400_000
EVENTS_A_YEAR = 1_000_000


def forced_appends(folder: Path, seconds: float) -> float:
    """Return appends a second of 100 bytes, each on the disk before the next."""
    handle = os.open(folder / "raw", os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    count, begun = 0, time.perf_counter()
    while time.perf_counter() < begun + seconds:
        os.write(handle, b"x" * 100)
        os.fdatasync(handle)
        count += 1
    os.close(handle)
    return count / (time.perf_counter() - begun)


class Beating:
    """A watch with its broker, in this process."""

    def __init__(self, folder: Path, port: int) -> None:
        self.watch = Watch(open_store(str(folder), owner=True), read_plan(PLAN, "home.toml"), PLAN, SystemClock())
        self.inbox = MqttInbox(Broker(port=port), self.watch)

    async def __aenter__(self) -> Self:
        self.running = asyncio.create_task(self.watch.run())
        self.reading = asyncio.create_task(self.inbox.run())
        await self.inbox.connected.wait()
        return self

    async def __aexit__(self, *_: object) -> None:
        self.reading.cancel()
        self.watch.end()
        await self.running


async def one_by_one(folder: Path, seconds: float) -> float:
    """Return reports a second when each is handed in alone, after the one before is on the disk."""
    watch = Watch(open_store(str(folder), owner=True), read_plan(PLAN, "home.toml"), PLAN, SystemClock())
    running = asyncio.create_task(watch.run())
    await watch.ready.wait()
    count, begun = 0, time.perf_counter()
    while time.perf_counter() < begun + seconds:
        await watch.hand_in([Report("hall_pir.movement", 1.0)])
        count += 1
    rate = count / (time.perf_counter() - begun)
    watch.end()
    await running
    return rate


async def throughput(folder: Path, port: int, messages: int) -> tuple[float, float]:
    """Return reports a second from another process's publishing to the last one stored and decided.

    And the processor time of each here, microseconds: it does not depend on what else the machine does.
    """
    used_s = time.process_time()
    async with Beating(folder, port) as beating:
        flood = await asyncio.create_subprocess_exec(
            sys.executable, __file__, "--flood", str(port), str(messages), stdout=subprocess.DEVNULL
        )
        while beating.watch.status().events == 0:  # noqa: ASYNC110 - another process is waited for
            await asyncio.sleep(0.001)
        begun = time.perf_counter()
        while beating.watch.status().events < messages:  # noqa: ASYNC110 - likewise
            await asyncio.sleep(0.002)
        took = time.perf_counter() - begun
        await flood.wait()
    return messages / took, (time.process_time() - used_s) / messages * 1e6


def flood(port: int, messages: int) -> None:
    """Publish numbered reports at QoS 1 as fast as the broker takes them."""
    client = Client(CallbackAPIVersion.VERSION2)
    client.max_inflight_messages_set(1000)
    client.connect("127.0.0.1", port)
    client.loop_start()
    last = [client.publish("stillwell/report/hall_pir/movement", "1", qos=1) for _ in range(messages)]
    last[-1].wait_for_publish(60)
    client.loop_stop()
    client.disconnect()


async def latency(folder: Path, port: int, seconds: float, rate: int = 100) -> tuple[float, float, float]:
    """Return median, 99th percentile and most, ms, from publishing to the alarm's message handed over, at ``rate``.

    One report in ten raises an alarm, is answered and ends; the others are movements.
    """
    taken: list[float] = []
    sent_at: dict[int, float] = {}
    async with Beating(folder, port) as beating, aiomqtt.Client("127.0.0.1", port) as parts:
        watch = beating.watch

        async def hand_over() -> None:
            while True:
                await watch.messages.changed.wait()
                watch.messages.changed.clear()
                for row in watch.messages.due(watch.now()):
                    if row.alarm == "Water" and sent_at:
                        taken.append((time.perf_counter() - sent_at.popitem()[1]) * 1000)
                    watch.messages.mark(replace(row, sent_ms=watch.now(), ended_ms=watch.now()))

        handing = asyncio.create_task(hand_over())
        begun, number = time.perf_counter(), 0
        while time.perf_counter() < begun + seconds:
            number += 1
            turn = number % 10
            if turn == 1:
                sent_at[number] = time.perf_counter()
                await parts.publish("stillwell/report/tap/wet", "1", qos=1)
            elif turn == 6:
                await parts.publish("stillwell/report/tap/wet", "0", qos=1)
                await _answered(watch)
            else:
                await parts.publish("stillwell/report/hall_pir/movement", "1", qos=1)
            await asyncio.sleep(max(0.0, begun + number / rate - time.perf_counter()))
        handing.cancel()
    cuts = quantiles(taken, n=100, method="inclusive")
    return cuts[49], cuts[98], max(taken)


async def _answered(watch: Watch) -> None:
    await watch.order(lambda now: watch.home.answer(now, "Water", "ben", "looking"))


def a_year(path: Path, events: int) -> None:
    """Fill a store as a year leaves it."""
    store = open_store(str(path), owner=True)
    now_ms = wall_ms()
    step_ms = YEAR_MS // events
    for start in range(1, events + 1, 50_000):
        numbers = range(start, min(start + 50_000, events + 1))
        store.write([EventRow(n, now_ms - YEAR_MS + n * step_ms, "hall_pir.movement", 1.0) for n in numbers])
    home = Home(read_plan(PLAN, "home.toml"), now_ms - 60_000)
    home.pass_time(now_ms - 30_000)
    snapshot = json.dumps(home.snapshot())
    print_ = fingerprint(PLAN)
    store.write([PlanRow(print_, PLAN, 0, ""), StateRow(events - 400, now_ms - 30_000, print_, snapshot)])
    store.close()


def child(folder: Path, store: Path, port: int) -> subprocess.Popen[bytes]:
    """Start a watch in a process of its own."""
    plan, settings = folder / "home.toml", folder / "settings.toml"
    plan.write_text(PLAN, "utf-8")
    settings.touch(mode=0o600)
    settings.write_text(f"[broker]\nport = {port}\n[http]\nport = {free_port()}\n", "utf-8")
    command = [STILLWELL, "watch", plan, "--store", store, "--settings", settings]
    return subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


def first_decision(folder: Path, store: Path, port: int) -> tuple[float, float]:
    """Return seconds from starting a process to the fact that its first decision leaves in a store of a year.

    And how much of the processor it has used by then, s.
    """
    opened = look_into(str(store))
    begun = time.perf_counter()
    process = child(folder, store, port)
    while not any(fact.what == "watch started" for fact in opened.last_facts(5)):
        time.sleep(0.01)
    took, used = time.perf_counter() - begun, _cpu_s(process.pid)
    opened.close()
    process.terminate()
    process.wait()
    return took, used


def idle(folder: Path, port: int, seconds: float) -> tuple[float, float]:
    """Return resident MiB and percent of a core of a watch to which nothing comes."""
    store = folder / "idle.db"
    open_store(str(store)).close()
    opened = look_into(str(store))
    process = child(folder, store, port)
    while not opened.last_facts(1):
        time.sleep(0.05)
    opened.close()
    time.sleep(3)
    before = _cpu_s(process.pid)
    time.sleep(seconds)
    used = _cpu_s(process.pid) - before
    pages = int(Path(f"/proc/{process.pid}/statm").read_text("utf-8").split()[1])
    process.terminate()
    process.wait()
    return pages * resource.getpagesize() / 2**20, 100 * used / seconds


def _cpu_s(pid: int) -> float:
    fields = Path(f"/proc/{pid}/stat").read_text("utf-8").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def measure(folder: Path, port: int, safe_port: int, *, fast: bool) -> list[tuple[str, float, str, float, bool]]:
    """Return (what, figure, unit, mark, whether less is better)."""
    raw = forced_appends(folder, 0.5 if fast else 3.0)
    alone = asyncio.run(one_by_one(folder / "one.db", 1.0 if fast else 5.0))
    flow, each = asyncio.run(throughput(folder / "flow.db", port, 5_000 if fast else 50_000))
    safe_flow, _ = asyncio.run(throughput(folder / "safe.db", safe_port, 1_000 if fast else 5_000))
    median, p99, most = asyncio.run(latency(folder / "late.db", port, 5.0 if fast else 60.0))
    a_year(folder / "year.db", EVENTS_A_YEAR // (10 if fast else 1))
    start, start_used = first_decision(folder, folder / "year.db", port)
    resident, core = idle(folder, port, 5.0 if fast else 60.0)
    return [
        ("forced appends of this disk", raw, "/s", 0, False),
        ("reports stored one by one", alone, "/s", 0, False),
        ("  as a ratio to forced appends", alone / raw, "", 0, False),
        ("reports from the broker, durable and decided", flow, "/s", 2_000, False),
        ("  as a ratio to forced appends", flow / raw, "", 0, False),
        ("  processor time for each", each, "microseconds", 500, True),
        ("  with a broker that survives a kill as well", safe_flow, "/s", 0, False),
        ("publish to message handed over, median", median, "ms", 50, True),
        ("  99th percentile at 100 reports/s", p99, "ms", 50, True),
        ("  most", most, "ms", 1_000, True),
        ("start to first decision, a year (1 million) in the store", start, "s", 2, True),
        ("  processor time until then", start_used, "s", 2, True),
        ("resident, idle", resident, "MiB", 120, True),
        ("processor, idle", core, "% of a core", 1, True),
    ]


def main() -> None:
    """Measure and print."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--fast", action="store_true")
    options.add_argument("--gate", action="store_true")
    options.add_argument("--flood", nargs=2, type=int, help=argparse.SUPPRESS)
    given = options.parse_args()
    if given.flood:
        flood(*given.flood)
        return
    with tempfile.TemporaryDirectory() as name, ExitStack() as brokers:
        folders = [Path(name) / "quick", Path(name) / "safe"]
        for folder in folders:
            folder.mkdir()
        quick, safe = Mosquitto(folders[0], survives=False), Mosquitto(folders[1])
        brokers.callback(quick.stop)
        brokers.callback(safe.stop)
        found = measure(Path(name), quick.port, safe.port, fast=given.fast)
    missed = [what for what, figure, _, mark, less in found if mark and (figure > mark if less else figure < mark)]
    rows = [
        [what, f"{figure:,.2f} {unit}".strip(), f"{'at most' if less else 'at least'} {mark:,g}" if mark else "-"]
        for what, figure, unit, mark, less in found
    ]
    said = (
        f"`python benchmarks/watch.py`, {machine()}, SQLite. Through a real Mosquitto; each report is on the disk "
        "before it is acted on. A forced append is 100 bytes written and forced to this disk, in the same run."
    )
    text = f"## The watch\n\n{said}\n\n{table(['what', 'measured', 'asked for'], rows)}"
    print(text)
    if missed:
        print("missed:", "; ".join(missed))
    if not given.fast:
        write_section("watch", text)
    if given.gate and missed:
        raise SystemExit(1)


if __name__ == "__main__":
    main()
