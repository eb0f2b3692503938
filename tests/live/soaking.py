"""Many days of a home through the loop and its store, on a clock that is moved; and what that must come to.

What the store must grow by is computed from the reports alone, by the file format of SQLite
(https://sqlite.org/fileformat2.html, sections 1.6 and 2.1, from memory); when rules must fire, by the columnar engine,
which knows nothing of steps, snapshots and restarts.
"""

import asyncio
import sqlite3
from contextlib import closing
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise

from tests.live.stepped import ASKS, JumpingClock

from stillwell.engine import columns
from stillwell.engine.program import compile_plan
from stillwell.simulate.radio import USUAL_FAULTS
from stillwell.simulate.run import simulate
from stillwell.simulate.script import values_of
from stillwell.store.store import open_store
from stillwell.watch.home import Work
from stillwell.watch.loop import Watch
from stillwell.watch.orders import Orders
from stillwell.watch.payload import Report

DAY_MS = 86_400_000
AT_ONCE = 64
"""Reports handed in before the loop takes its turn, as in a burst."""

ANSWERS_AFTER_MS = 45 * 60_000
PAGE_HEADER_BYTES, PAGE_BYTES = 8, 4096


@dataclass(frozen=True)
class Soaked:
    """What was left behind."""

    fired: list
    expected: list
    messages: list
    reports: list


def soak(plan, text, path, days, seed, lives=3, after_day=lambda: None):
    """Live through so many days in so many lives of the watch; return what the store holds of it."""
    record = simulate(plan, days, seed, date(2026, 3, 2), USUAL_FAULTS)
    reports = sorted(
        (at_ms, name, value)
        for name, column in record.signals.items()
        for at_ms, value in zip(column.times.tolist(), values_of(column), strict=True)
    )
    asyncio.run(_live(plan, text, path, record.span, reports, lives, after_day))
    outcome = columns.run(compile_plan(plan), record)
    expected = sorted((at_ms, name) for name, times in outcome.fired.items() for at_ms in times.tolist())
    store = open_store(str(path))
    facts = store.facts(0, 2**60, 10**7)
    fired = sorted((row.at_ms, row.subject) for row in facts if row.what in ("raised", "acted"))
    messages = store.messages_between(0, 2**60, 10**7)
    store.close()
    return Soaked(fired, expected, messages, reports)


async def _live(plan, text, path, span, reports, lives, after_day):
    clock = JumpingClock(span[0])
    edges = [span[0] + (span[1] - span[0]) * part // lives for part in range(lives + 1)]
    for start_ms, end_ms in pairwise(edges):
        watch = Watch(open_store(str(path), owner=True), plan, text, clock)
        running = asyncio.create_task(watch.run())
        await watch.ready.wait()
        mine = [one for one in reports if start_ms <= one[0] < end_ms]
        for first in range(0, len(mine), AT_ONCE):
            before_ms = clock.ms
            for at_ms, name, value in mine[first : first + AT_ONCE]:
                clock.ms = at_ms
                watch.hand_in([Report(name, value)])
            await watch.order(lambda _now: Work())
            await _people(watch)
            if clock.ms // DAY_MS != before_ms // DAY_MS:
                after_day()
        clock.ms = end_ms - 1
        await watch.order(lambda _now: Work())
        watch.end()
        await running


async def _people(watch):
    """What waits is sent; whoever was asked long enough ago answers."""
    now_ms = watch.now()
    for row in watch.messages.all():
        watch.messages.mark(replace(row, attempts=1, sent_ms=now_ms, ended_ms=now_ms))
    for row in watch.commands.all():
        watch.commands.mark(replace(row, attempts=1, sent_ms=now_ms, ended_ms=now_ms))
    orders = Orders(watch)
    for name, alarm in list(watch.home.alarms.items()):
        if alarm.life.state in ASKS and now_ms - alarm.life.asked_at_ms >= ANSWERS_AFTER_MS:
            await orders.answer(name, "somebody", "looking")


def expected_bytes(reports):
    """What the table of events and its index by time take in the file, for reports (instant, signal, value)."""
    table = sum(_table_cell(number, *one) for number, one in enumerate(reports, 1))
    index = sum(_index_cell(number, one[0]) for number, one in enumerate(reports, 1))
    return {"event": _pages(table) * PAGE_BYTES, "event_by_time": _pages(index) * PAGE_BYTES}


def _table_cell(seq, at_ms, signal, value):
    """Bytes of a row: its length, its number (the primary key), types, values, and where in the page it is."""
    values = _whole(at_ms) + len(signal.encode()) + _real(value)
    types = 1 + 8 + (1 if len(signal.encode()) > 57 else 0)  # the text's type takes a second byte then
    return _varint(types + values) + _varint(seq) + types + values + 2


def _index_cell(seq, at_ms):
    return 1 + 3 + _whole(at_ms) + _whole(seq) + 2


def _real(value):
    """Whole numbers in a column of reals are stored as whole numbers; 0 and 1 take no room."""
    if value is None:
        return 0
    return _whole(int(value)) if float(value).is_integer() else 8


def _whole(number):
    if number in (0, 1):
        return 0
    return next(size for size in (1, 2, 3, 4, 6, 8) if -(1 << (8 * size - 1)) <= number < 1 << (8 * size - 1))


def _varint(number):
    return max(1, -(-number.bit_length() // 7))


def _pages(cells_bytes):
    """Leaves filled one after the other, and the pages above them: some 12 bytes for each leaf."""
    leaves = -(-cells_bytes // (PAGE_BYTES - PAGE_HEADER_BYTES))
    return leaves + -(-leaves * 12 // PAGE_BYTES)


def taken_bytes(path):
    """What each table and index takes in the file."""
    with closing(sqlite3.connect(path)) as connection:
        return dict(connection.execute("SELECT name, SUM(pgsize) FROM dbstat GROUP BY name").fetchall())


def out_of_step(plan, messages):
    """Messages that were not due a sum of the call list's waits after their asking began."""
    calls = {rule.name: plan.calls[rule.call] for rule in compile_plan(plan).alarms}
    return [row for row in messages if (row.at_ms - row.asked_at_ms) not in _due(calls[row.alarm], row)]


def _due(call, row):
    waits, at_ms, found, stage = [step.wait for step in call.steps], 0, set(), 0
    while at_ms <= row.at_ms - row.asked_at_ms:
        found.add(at_ms)
        last = call.then == "everyone" and stage >= len(waits)
        at_ms += waits[-1] if last else waits[stage % len(waits)]
        stage += 1
    return found
