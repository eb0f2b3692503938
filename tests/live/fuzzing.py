"""A watch with both its ways in, a broker and a server on loopback, and a flood of odd things through them."""

import asyncio
import gc
import json
import random
import time
from collections import Counter
from contextlib import asynccontextmanager, suppress
from dataclasses import dataclass

import httpx
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion
from pydantic import SecretStr
from starlette.applications import Starlette
from tests.live import odd
from tests.trial_home import HOUR_MS, PLAN, START_MS, running, turn

from stillwell.serving.server import Server, config
from stillwell.store.store import open_store
from stillwell.watch.clock import FastClock
from stillwell.watch.inbox_http import HttpInbox
from stillwell.watch.inbox_mqtt import MqttInbox
from stillwell.watch.listening import listening, url_of
from stillwell.watch.settings import Broker

TOKEN = "tap-token-0123456789abcdef"
TEXT = PLAN.replace(
    "[parts.lamp]",
    """
[parts.loft_smoke]
kind = "smoke"
room = "hall"
[[parts.loft_smoke.reads]]
topic = "smoke"
signal = "smoke"
pointer = "/s"
values = { SMOKE = "yes", CLEAR = "no", "?" = "unknown" }

[parts.cellar]
kind = "temperature"
room = "hall"
reads = [{ topic = "cellar", signal = "temperature", pointer = "/t", sequence = "/n", stamped = "/at" }]

[parts.bell]
kind = "push button"
room = "hall"
reads = [{ topic = "button", signal = "pressed", values = { single = "yes", release = "nothing" } }]

[parts.lamp]""",
).replace(
    "[[aid]]",
    """
[[hazard]]
name = "fire"
kind = "smoke"
deadline = { day = "1h", night = "1h" }

[[hazard]]
name = "cold"
kind = "cold"
deadline = { day = "12h", night = "12h" }

[[alarm]]
name = "Smoke"
hazard = "fire"
when = "loft_smoke.smoke"
call = "family"

[[alarm]]
name = "Cold"
hazard = "cold"
when = "cellar.temperature < 5 °C"
call = "family"

[[aid]]""",
    1,
)


class LeapingClock(FastClock):
    """Real time, and leaps where the test wants them."""

    leap_ms = 0

    def now_ms(self):
        return super().now_ms() + self.leap_ms


@dataclass
class Outcome:
    """What was found in the end."""

    by_broker: int
    by_http: int
    broken_requests: int
    reports: int
    unread: Counter
    answers: Counter
    seconds: float


def run(folder, broker_port, by_broker, by_http, broken, seed=1):
    """Send so many odd things each way; return what was found, or fail."""
    return asyncio.run(_run(folder, broker_port, by_broker, by_http, broken, random.Random(seed)))


async def _run(folder, broker_port, by_broker, by_http, broken, draw):
    begun = time.monotonic()
    store = open_store(str(folder / "store.db"), owner=True)
    clock = LeapingClock(START_MS, 1.0)
    async with running(store, clock, TEXT) as watch, _ways_in(watch, broker_port) as base:
        # A true alarm that is over: played in again it must not ring again.
        wet = {"Authorization": f"Bearer {TOKEN}"}
        async with httpx.AsyncClient(base_url=base) as parts:
            for value, number in ((True, 1), (False, 2)):
                body = json.dumps({"wet": value, "sequence": number})
                assert (await parts.post("/report/tap", content=body, headers=wet)).status_code == 202
        await watch.order(lambda now: watch.home.answer(now, "Water", "ben", "well"))
        before = await _raised(watch)
        sent = await asyncio.to_thread(_publish, broker_port, by_broker, draw)
        answers = await _post(base, by_http, draw)
        answers += await _hardly_requests(base, broken, draw)
        await _caught_up(watch, broker_port)
        assert await _raised(watch) == before, "a false alarm"
        assert not [code for code in answers if code >= 500], answers
        unread = Counter()
        for row in watch.tally.totals():
            unread[row.reason] += row.times
        reports = await watch.ask(lambda: sum(1 for _ in store.events_after(0)))
        await _still_at_work(watch, clock, base)
    gc.collect()
    return Outcome(sent, by_http, broken, reports, unread, answers, time.monotonic() - begun)


@asynccontextmanager
async def _ways_in(watch, broker_port):
    inbox = MqttInbox(Broker(port=broker_port), watch)
    at = listening("127.0.0.1", 0)
    server = Server(config(Starlette(routes=HttpInbox(watch, {"tap": SecretStr(TOKEN)}).routes())))
    tasks = [asyncio.create_task(inbox.run()), asyncio.create_task(server.serve([at]))]
    await inbox.connected.wait()
    yield url_of(at)
    server.end()
    tasks[0].cancel()
    await asyncio.gather(*tasks, return_exceptions=True)


async def _raised(watch):
    await turn(watch)
    facts = await watch.ask(lambda: watch.store.facts(0, 2**53))
    return [(row.at_ms, row.subject) for row in facts if row.what == "raised"]


def _publish(port, messages, draw):
    client = Client(CallbackAPIVersion.VERSION2)
    client.max_inflight_messages_set(500)
    client.connect("127.0.0.1", port)
    client.loop_start()
    sent, last, again = 0, None, []
    while sent < messages:
        if again and draw.random() < 0.1:
            topic, payload = draw.choice(again[-50:])  # doubled, and out of order
        else:
            topic = odd.topic(draw)
            payload = odd.payload(draw, topic)
        if odd.is_true(topic, payload):
            continue
        again.append((topic, payload))
        last = client.publish(topic, payload, qos=1)
        sent += 1
        if sent % 2_000 == 0:
            last.wait_for_publish(60)
    last.wait_for_publish(60)
    client.loop_stop()
    client.disconnect()
    return sent


async def _post(base, requests, draw):
    answers = Counter()
    limits = httpx.Limits(max_connections=20)
    async with httpx.AsyncClient(base_url=base, limits=limits, timeout=60) as client:

        async def one(body, headers, path):
            answers[(await client.post(path, content=body, headers=headers)).status_code] += 1

        done = 0
        while done < requests:
            batch = []
            for _ in range(min(50, requests - done)):
                body = odd.table(draw)
                while odd.table_is_true(body):
                    body = odd.table(draw)
                if draw.random() < 0.005:
                    body = b"0" * 10_000_000
                token = TOKEN if draw.random() < 0.9 else draw.choice(["-", "x", TOKEN[:-1], TOKEN + "x", "é" * 9])
                path = (
                    "/report/tap"
                    if draw.random() < 0.9
                    else draw.choice(["/report/lamp", "/report/", "/", "/report/%ff"])
                )
                batch.append(one(body, {"Authorization": f"Bearer {token}".encode()}, path))
            done += len(batch)
            await asyncio.gather(*batch)
    return answers


async def _hardly_requests(base, requests, draw):
    """What is hardly HTTP is refused or cut off; the server goes on."""
    answers = Counter()
    host, port = base.removeprefix("http://").split(":")
    for _ in range(requests):
        reader, writer = await asyncio.open_connection(host, int(port))
        with suppress(OSError):
            writer.write(odd.request(draw, TOKEN))
            writer.write_eof()
            async with asyncio.timeout(30):
                answer = await reader.read(300)
            if answer.startswith(b"HTTP/1.1 "):
                answers[int(answer[9:12])] += 1
        writer.close()
        with suppress(OSError):
            await writer.wait_closed()
    return answers


async def _caught_up(watch, port):
    """Wait until all that was published is taken: what is published last is taken last."""
    client = Client(CallbackAPIVersion.VERSION2)
    client.connect("127.0.0.1", port)
    client.loop_start()
    client.publish("stillwell/report/tap/battery", "41.25", qos=1).wait_for_publish(60)
    client.loop_stop()
    client.disconnect()
    heard = asyncio.Event()
    watch.heard.append(lambda row: heard.set() if (row.signal, row.value) == ("tap.battery", 41.25) else None)
    async with asyncio.timeout(120):
        while not heard.is_set():
            rows = await watch.ask(lambda: watch.store.last_reports(0))
            if "tap.battery" in rows and 41.25 in await watch.ask(_batteries, watch.store):
                return
            await asyncio.sleep(0.05)


def _batteries(store):
    return [row.value for row in store.events_after(store.last_seq() - 5_000) if row.signal == "tap.battery"]


async def _still_at_work(watch, clock, base):
    """A true report still rings; silence still counts from the last true sign of life, whatever was stamped ahead."""
    async with httpx.AsyncClient(base_url=base) as parts:
        body = json.dumps({"wet": True, "sequence": 3})
        answer = await parts.post("/report/tap", content=body, headers={"Authorization": f"Bearer {TOKEN}"})
    assert answer.status_code == 202
    assert (await _raised(watch))[-1][1] == "Water"
    events = await watch.ask(lambda: list(watch.store.events_after(0)))
    signs = [row.at_ms for row in events if row.signal == "hall_pir.movement" and row.value == 1.0 and not row.late]
    last_ms = max(signs, default=None)
    clock.leap_ms = 4 * HOUR_MS
    silent = [at_ms for at_ms, alarm in await _raised(watch) if alarm == "No sign of life"]
    if last_ms is not None:
        assert last_ms <= clock.now_ms() - 4 * HOUR_MS + 1_000, "a report from the future was taken as such"
        assert silent == [last_ms + 3 * HOUR_MS]
