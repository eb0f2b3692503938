"""Sending in a thread of its own, with a time limit: a server that never answers holds up nobody else."""

import asyncio
import threading
from collections.abc import Callable
from contextlib import suppress

from stillwell.channels.notice import Delivery, failed


async def apart(send: Callable[[], Delivery], limit_s: float, name: str = "sending") -> Delivery:
    """Return what ``send`` returns, or that it took too long. Its thread does not keep the program from ending.

    A sending that took too long may still arrive: whoever tries again sends the same key.
    """
    loop = asyncio.get_running_loop()
    done: asyncio.Future[Delivery] = loop.create_future()

    def settle(delivery: Delivery) -> None:
        if not done.done():
            done.set_result(delivery)

    def work() -> None:
        try:
            delivery = send()
        except Exception as error:  # noqa: BLE001 - a mistake in one channel must not stop the others
            delivery = failed(f"sending broke down: {type(error).__name__}")
        with suppress(RuntimeError):  # the loop has ended meanwhile
            loop.call_soon_threadsafe(settle, delivery)

    threading.Thread(target=work, name=name, daemon=True).start()
    try:
        async with asyncio.timeout(limit_s):
            return await done
    except TimeoutError:
        return failed(f"no result within {limit_s:g} s")
