"""``stillwell simulate --live``: the parts of a home, played at a broker."""

import asyncio
import signal
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import click

from stillwell.civiltime import local_datetime
from stillwell.cli.extras import wanting
from stillwell.plan.model import Plan
from stillwell.problem import refuse
from stillwell.simulate.events import Break, Hazard, break_in_words, hazard_in_words
from stillwell.simulate.radio import NO_FAULTS
from stillwell.simulate.run import simulate
from stillwell.simulate.script import script
from stillwell.wording.instants import clock

try:
    from stillwell.watch.kept import ended
    from stillwell.watch.played import Part, Played, Player
    from stillwell.watch.settings import Broker, read_settings
except ModuleNotFoundError as error:
    raise wanting("playing parts at a broker", error, "watch") from error

FASTEST = 3600.0


def play(
    plan: Plan,
    days: int,
    seed: int,
    *,
    speed: float | None,
    broker: str | None,
    settings: str | None,
    hazards: Sequence[str],
    faults: Sequence[str],
    shown: bool,
) -> dict[str, Any]:
    """Play until the days are over or somebody ends it; return what came of it."""
    if speed is not None and not 0 < speed <= FASTEST:
        raise refuse(f"{speed:g} is no speed", f"Above 0, at most {FASTEST:g}.", name="--speed")
    zone = ZoneInfo(plan.home.timezone)

    def read(now_ms: int) -> tuple[list[Hazard], list[Break]]:
        return (
            [hazard_in_words(plan, words, now_ms, zone) for words in hazards],
            [break_in_words(plan, words, now_ms, zone) for words in faults],
        )

    def write(now_ms: int) -> Part:
        first = local_datetime(zone, now_ms).date()
        record = simulate(plan, days, seed, first, NO_FAULTS)
        befalls, breaks = read(now_ms)
        end_ms = record.span[1]
        notes = [(one.at_ms, f"{one.name}: {one.way.told}") for one in befalls]
        notes += [(one.at_ms, f"{one.subject} is {one.how}") for one in breaks]
        notes += [(one.until_ms, f"{one.subject} works again") for one in breaks if one.until_ms < end_ms]
        return Part(script(plan, record, now_ms, befalls, breaks), notes, breaks, end_ms)

    def tell(at_ms: int, what: str) -> None:
        if shown:
            click.echo(f"{clock(zone, at_ms)}  {what}")

    read(0)  # what is wrong in the words is said before anything begins
    player = Player(plan, _broker(broker, settings), write, speed, tell)
    asyncio.run(_until_ended(player))
    return _answer(player.played)


async def _until_ended(player: Player) -> None:
    running, told = asyncio.create_task(player.run()), asyncio.Event()
    loop = asyncio.get_running_loop()
    for end in (signal.SIGTERM, signal.SIGINT):
        loop.add_signal_handler(end, told.set)
    waiting = asyncio.create_task(told.wait())
    await asyncio.wait({running, waiting}, return_when=asyncio.FIRST_COMPLETED)
    waiting.cancel()
    await ended({running}, again_s=0.1)
    with suppress(asyncio.CancelledError):
        running.result()


def _broker(where: str | None, settings: str | None) -> Broker:
    if settings is not None:
        named = read_settings(Path(settings)).broker
        if named is None:
            raise refuse("no broker is named there", "Name it under [broker].", file=settings)
        return named
    if where is None:
        return Broker()
    host, _, port = where.rpartition(":")
    if not host or not port.isdecimal() or not 0 < int(port) < 65_536:
        raise refuse(f'"{where}" is no address of a broker', "Write it as 127.0.0.1:1883.", name="--broker")
    return Broker(host=host, port=int(port))


def _answer(played: Played) -> dict[str, Any]:
    return {"messages": played.reports, "commands": played.commands, "unsaid": played.unsaid}
