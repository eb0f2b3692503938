"""SIGKILL the watch, its broker and the keeper at random instants under load; nothing may be lost.

With ``--full`` 500 times (writes its section of docs/benchmarks.md), else 50, with ``--fast`` 20: half of them the
watch alone, a fifth the keeper, the rest broker and watch in turns. Several homes at a time, each with its own of
everything, for most of the time goes by while processes start. Fails where a report, an alarm, a stage of a calling, a
beat, an answer or a message is missing, doubled or at another millisecond than what went in demands.
"""

import argparse
import sys
import tempfile
from collections.abc import Sequence
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from dataclasses import astuple
from pathlib import Path
from typing import TypeVar

sys.path.insert(0, str(Path(__file__).parents[1]))

from benchmarks.page import machine, table, write_section
from tests.live import crashing, crashing_keeper

ALONE = 4
HOMES = ALONE + 4

T = TypeVar("T", crashing.Outcome, crashing_keeper.Outcome)


def told(alone: crashing.Outcome, both: crashing.Outcome, keeper: crashing_keeper.Outcome, store: str) -> str:
    """Return what was found, as a section of the page."""
    killed = alone.rounds + both.rounds + both.broker_rounds + keeper.rounds
    said = (
        f"`python benchmarks/crash.py --full`, {machine()}. SIGKILL at {killed} random instants under load: "
        f"{alone.rounds} times the watch alone, {both.rounds} times the watch and "
        f"{both.broker_rounds} times the broker in turns, {keeper.rounds} times the keeper. The store of the watch is "
        f"in {store}; one message in ten is sent back by its receiver with a temporary refusal."
    )
    by_watch = table(
        ["what", "watch alone", "watch and broker", "asked for"],
        [
            ["reports published", f"{alone.published:,}", f"{both.published:,}", "-"],
            ["of them stored, once each", f"{alone.stored:,}", f"{both.stored:,}", "all that the broker kept"],
            ["of them taken along by a killed broker", "0", f"{both.lost_by_broker:,}", "-"],
            ["alarms at another millisecond than the reports demand",
             f"0 of {alone.alarms}", f"0 of {both.alarms}", "0"],
            ["stages of the calling missing or moved", f"0 of {alone.messages:,}", f"0 of {both.messages:,}", "0"],
            ["messages that never arrived, nor a newer one of their kind", "0", "0", "0"],
            ["messages that arrived", f"{alone.arrived:,}", f"{both.arrived:,}", "-"],
            ["of them once more, with the same key", f"{alone.twice}", f"{both.twice}", "-"],
            ["sent back, and tried again", f"{alone.sent_back}", f"{both.sent_back}", "-"],
        ],
    )  # fmt: skip
    by_keeper = table(
        ["the keeper", "measured", "asked for"],
        [
            ["heartbeats that it took", f"{keeper.beats:,}", "-"],
            ["taken a second time", f"0 of {keeper.replays_refused:,} tries", "0"],
            ["silences not noticed, noticed too soon or too late", f"0 of {keeper.silences}", "0"],
            ["answers lost", f"0 of {keeper.answers}", "0"],
            ["letters that never arrived, nor a newer one of their kind", f"0 of {keeper.letters}", "0"],
            ["letters that arrived; once more, with the same key", f"{keeper.arrived:,}; {keeper.twice}", "-"],
        ],
    )
    why = (
        "Mosquitto acknowledges a report before it saves it, even when it saves at every change; and what is on its "
        "way to a watch counts as no change (2.0.11). So a broker killed together with the watch takes reports along "
        "that never reached the watch. A part to which that matters reports by HTTP: 202 means stored."
    )
    return f"## Killed at any instant\n\n{said}\n\n{by_watch}\n\n{by_keeper}\n\n{why}"


def _part(whole: int, number: int, of: int) -> int:
    return whole // of + (number < whole % of)


def _sum(runs: Sequence[Future[T]]) -> T:
    results = [run.result() for run in runs]
    return type(results[0])(*(sum(column) for column in zip(*map(astuple, results), strict=True)))


def main() -> None:
    """Kill, look, and print what was found."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--full", action="store_true")
    options.add_argument("--fast", action="store_true")
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--store", help="a postgresql:// address; without it a file")
    given = options.parse_args()
    kills = 500 if given.full else 20 if given.fast else 50
    alone, keepers, brokers = kills // 2, kills // 5, kills // 5
    with tempfile.TemporaryDirectory() as name, ProcessPoolExecutor(HOMES) as pool:
        folders = [Path(name) / str(number) for number in range(HOMES)]
        for folder in folders:
            folder.mkdir()
        stores = [
            f"{given.store}_{number}" if given.store and number < ALONE else str(folder / "store.db")
            for number, folder in enumerate(folders)
        ]
        alones = [
            pool.submit(crashing.run, folders[n], stores[n], _part(alone, n, ALONE), given.seed + n)
            for n in range(ALONE)
        ]
        watches = kills - alone - keepers - brokers
        pairs = [
            pool.submit(
                crashing.run, folders[ALONE + n], stores[ALONE + n], _part(watches, n, 2), given.seed + n,
                _part(brokers, n, 2),
            )
            for n in range(2)
        ]  # fmt: skip
        keeps = [
            pool.submit(crashing_keeper.run, folders[ALONE + 2 + n], _part(keepers, n, 2), given.seed + n)
            for n in range(2)
        ]
        for done in as_completed([*alones, *pairs, *keeps]):
            print(done.result(), file=sys.stderr)
        found = _sum(alones), _sum(pairs), _sum(keeps)
    text = told(*found, "PostgreSQL" if given.store else "SQLite")
    print(text)
    if given.full:
        write_section("crash", text)


if __name__ == "__main__":
    main()
