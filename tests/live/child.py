"""A watch in a process of its own, to be killed: broker in, store, messages out into a file.

    python child.py PLAN STORE PORT SENT

Each message handed over is a line of SENT: its key, alarm and when it was due. The line is on the disk before the
store hears that the message is sent.
"""

import asyncio
import os
import signal
import sys
from dataclasses import replace
from pathlib import Path

from stillwell.plan.read import read_plan
from stillwell.store.store import open_store
from stillwell.watch.clock import SystemClock
from stillwell.watch.commands import Commander
from stillwell.watch.inbox_mqtt import MqttInbox
from stillwell.watch.log import Log
from stillwell.watch.loop import Watch
from stillwell.watch.settings import Broker


async def send(watch: Watch, sent: int) -> None:
    """Hand messages over as soon as they are there."""
    await watch.ready.wait()
    while True:
        watch.messages.changed.clear()
        for row in watch.messages.due(watch.now()):
            os.write(sent, f"{row.key} {row.at_ms} {row.alarm}\n".encode())
            os.fsync(sent)
            now_ms = watch.now()
            watch.messages.mark(replace(row, attempts=row.attempts + 1, sent_ms=now_ms, ended_ms=now_ms))
        await watch.messages.changed.wait()


async def main(text: str, store_url: str, port: str, sent: int) -> None:
    """Run until SIGTERM."""
    watch = Watch(open_store(store_url, owner=True), read_plan(text, "home.toml"), text, SystemClock())
    inbox = MqttInbox(Broker(port=int(port)), watch, Log(watch.clock.now_ms))
    commander = Commander(watch, inbox.publish)
    asyncio.get_running_loop().add_signal_handler(signal.SIGTERM, watch.end)
    others = [asyncio.create_task(each) for each in (inbox.run(), commander.run(), send(watch, sent))]
    try:
        await watch.run()
    finally:
        for each in others:
            each.cancel()
        await asyncio.gather(*others, return_exceptions=True)


if __name__ == "__main__":
    plan_file, store, broker_port, sent_file = sys.argv[1:]
    out = os.open(sent_file, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o600)
    asyncio.run(main(Path(plan_file).read_text("utf-8"), store, broker_port, out))
