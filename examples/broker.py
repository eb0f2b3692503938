"""A message broker for the demo, at a free port of this machine: says which, and runs until it is ended."""

import asyncio
import signal

from stillwell.watch.first_broker import first_broker


async def main() -> None:
    ended = asyncio.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        asyncio.get_running_loop().add_signal_handler(number, ended.set)
    async with first_broker() as broker:
        print(f"ready at {broker.host} {broker.port}", flush=True)  # noqa: T201
        await ended.wait()


if __name__ == "__main__":
    asyncio.run(main())
