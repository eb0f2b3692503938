"""The time of a trial, told to whoever plays the parts, so that both go equally fast.

A watch in earnest has the time of the system, and tells nobody. One that is only tried out (``FastClock``) publishes
what its clock shows and how fast it goes; ``stillwell simulate --live`` sets its own by that. Start it beside the
inbox, and say loudly that this is a trial:

    clock = FastClock(start_ms, speed)
    asyncio.create_task(tell_time(clock, inbox.publish, broker.prefix))
"""

import asyncio
import json
from collections.abc import Awaitable, Callable
from contextlib import suppress
from typing import Final

from stillwell.watch.clock import FastClock
from stillwell.watch.inbox_mqtt import NotConnected

EVERY_S: Final = 0.5


def time_topic(prefix: str) -> str:
    """Return where a watch on trial says what time it is there."""
    return f"{prefix}/trial/time"


async def tell_time(
    clock: FastClock, publish: Callable[[str, str], Awaitable[None]], prefix: str, every_s: float = EVERY_S
) -> None:
    """Publish the time and the speed, for ever."""
    while True:
        with suppress(NotConnected):
            await publish(time_topic(prefix), json.dumps({"now_ms": clock.now_ms(), "speed": clock.speed}))
        await asyncio.sleep(every_s)


def read_time(payload: bytes) -> tuple[int, float] | None:
    """Return the time and the speed of a trial; None where this is no such message."""
    try:
        told = json.loads(payload)
        now_ms, speed = told["now_ms"], told["speed"]
    except (ValueError, TypeError, KeyError):
        return None
    if isinstance(now_ms, int) and isinstance(speed, int | float) and 0 < speed < 1e6 and 0 < now_ms < 2**53:
        return now_ms, float(speed)
    return None
