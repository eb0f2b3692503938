"""Replays a record into a store, as if a watch had lived through it, so that the pages have a past to show.

    python examples/past.py HOME RECORD STORE

The rules decide as they do live; who was told is taken to have been reached, and whoever was told first answers after
six minutes. The store then stands at the present instant: reports of the record after it are left out.
"""

import json
import sys
import time
from dataclasses import replace
from itertools import groupby
from pathlib import Path

from stillwell.alarms.life import Life, State
from stillwell.cli.recorded import read_record
from stillwell.files import read_text
from stillwell.plan.read import read_plan
from stillwell.record.columns import Pulses, Record
from stillwell.store.rows import CounterRow, EventRow, FactRow, MessageRow, PlanRow, StateRow
from stillwell.store.store import open_store
from stillwell.watch.beginning import TRIAL
from stillwell.watch.follows import fact_rows, message_rows
from stillwell.watch.home import Home, Work
from stillwell.watch.resume import fingerprint

ANSWER_MS = 6 * 60_000
REACHED_MS = 30_000
ASKING = (State.UNACKNOWLEDGED, State.RETURNED)


def main(plan_file: Path, record_file: str, store_file: str, now_ms: int) -> None:
    text = read_text(plan_file)
    plan = read_plan(text, str(plan_file))
    record = read_record(record_file, None, shown=False).record
    rows = [row for row in rows_of(record) if row.at_ms <= now_ms]
    home = Home(plan, rows[0].at_ms - 1)
    facts = [FactRow(home.now, "watch begun", "watch")]
    messages: list[MessageRow] = []
    for at_ms, together in groupby(rows, key=lambda row: row.at_ms):
        work = answered(home, at_ms) + home.report(at_ms, [(row.signal, row.value) for row in together])
        keep(work, at_ms, facts, messages)
    keep(answered(home, now_ms) + home.pass_time(now_ms), now_ms, facts, messages)
    facts.sort(key=lambda fact: fact.at_ms)
    store = open_store(store_file, owner=True)
    for start in range(0, len(rows), 10_000):
        store.write(rows[start : start + 10_000])
    state = StateRow(rows[-1].seq, home.now, fingerprint(text), json.dumps(home.snapshot()))
    trial = CounterRow(TRIAL, 1)  # only a watch on trial may go on from here
    store.write([PlanRow(fingerprint(text), text, now_ms, "at the start"), *facts, *messages, state, trial])
    store.close()
    print(f"{len(rows):,} reports, {len(facts):,} entries, {len(messages):,} messages are in {store_file}.")  # noqa: T201


def rows_of(record: Record) -> list[EventRow]:
    """Return the reports of a record in order of time."""
    found = []
    for name, column in record.signals.items():
        values = [1.0] * len(column.times)
        if not isinstance(column, Pulses):
            levels = column.values.dtype.kind == "i"
            values = (column.values / 2).tolist() if levels else column.values.tolist()
        found += [(at_ms, name, value) for at_ms, value in zip(column.times.tolist(), values, strict=True)]
    return [EventRow(seq, at_ms, name, value) for seq, (at_ms, name, value) in enumerate(sorted(found), 1)]


def answered(home: Home, until_ms: int) -> Work:
    """Let whoever was asked first answer whatever has been asked long enough."""
    work = Work()
    while due := [
        (alarm.life.asked_at_ms + ANSWER_MS, name) for name, alarm in home.alarms.items() if asks(alarm.life)
    ]:
        at_ms, name = min(due)
        if at_ms > until_ms:
            break
        first = home.plan.calls[home._call[name]].steps[0].whom[0]  # noqa: SLF001 - an example may look inside
        work += home.answer(max(at_ms, home.now), name, first, "looking")
    return work


def asks(life: Life) -> bool:
    return life.state in ASKING and life.asked_at_ms is not None


def keep(work: Work, now_ms: int, facts: list[FactRow], messages: list[MessageRow]) -> None:
    facts += fact_rows(work)
    for row in message_rows(work, now_ms):
        reached_ms = row.at_ms + REACHED_MS
        if row.ended_ms is None:
            facts.append(FactRow(reached_ms, f"told {row.person} by {row.channel}", row.alarm))
        messages.append(replace(row, attempts=1, sent_ms=reached_ms, ended_ms=reached_ms))


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2], sys.argv[3], time.time_ns() // 1_000_000)
