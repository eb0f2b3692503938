"""SQLite after a power cut: the last transaction may be torn, all before it are whole.

What SQLite promises: a commit in the write-ahead log counts only when its last frame and checksum are whole
(sqlite.org, "Write-Ahead Logging" and "WAL-mode File Format", sections 4.3 and 4.4).
"""

import random
import shutil
import sqlite3

import pytest

from stillwell.store.rows import EventRow, FactRow, StateRow
from stillwell.store.store import open_store

ROUNDS = 20
SECTOR = 512
"""What a disk writes whole or not at all, as SQLite assumes too (sqlite.org, "Atomic Commit In SQLite", section 2)."""


def transactions(path, count):
    """Write so many transactions; return the bytes of the log at the end, and how long it was after each."""
    store, sizes = open_store(str(path), owner=True), []
    for number in range(1, count + 1):
        rows = [EventRow(3 * number + each, number, "hall_pir.movement", 1.0) for each in range(3)]
        store.write([*rows, FactRow(number, "raised", "Water"), StateRow(3 * number + 2, number, "p", "{}")])
        sizes.append(path.with_name(f"{path.name}-wal").stat().st_size)
    return store, sizes


def nothing(log, at):
    """The sector was never written, those behind it were: a disk may write in any order."""
    return log[:at] + b"\0" * len(log[at : at + SECTOR]) + log[at + SECTOR :]


def rubbish(log, at):
    """The sector holds what was there by chance."""
    return log[:at] + random.Random(at).randbytes(len(log[at : at + SECTOR])) + log[at + SECTOR :]


@pytest.mark.parametrize("damage", [lambda log, at: log[:at], nothing, rubbish], ids=["cut", "nothing", "rubbish"])
def test_at_every_sector_of_the_last_transactions_those_before_it_are_whole(tmp_path, damage):
    path = tmp_path / "store.db"
    store, sizes = transactions(path, 3)
    sectors = range(-(-sizes[0] // SECTOR) * SECTOR, sizes[-1], SECTOR)
    assert len(sectors) > 50
    for at in sectors:
        log = path.with_name("store.db-wal").read_bytes()
        damaged = damage(log, at)
        harm = next(
            (place for place in range(at, len(log)) if damaged[place : place + 1] != log[place : place + 1]), None
        )
        there = copied(path, tmp_path / str(at), lambda _, damaged=damaged: damaged)
        whole = sum(harm is None or size <= harm for size in sizes)
        again = open_store(str(there), owner=True)
        assert [row.at_ms for row in again.facts(0, 100)] == list(range(1, whole + 1))
        assert [row.seq for row in again.events_after(0)] == list(range(3, 3 * whole + 3))
        assert again.state().taken_seq == 3 * whole + 2  # the state and what led to it are of one piece
        again.write([EventRow(1000, 99, "hall_pir.movement", 1.0)])
        again.close()
        assert sqlite3.connect(there).execute("PRAGMA integrity_check").fetchone() == ("ok",)
        shutil.rmtree(there.parent)
    store.close()


def copied(path, folder, cut):
    """Copy the files of an open store as a power cut would leave them: the log changed by ``cut``."""
    folder.mkdir()
    there = folder / path.name
    shutil.copy(path, there)
    log = path.with_name(f"{path.name}-wal").read_bytes()
    there.with_name(f"{there.name}-wal").write_bytes(cut(log))
    return there


@pytest.mark.parametrize("seed", range(ROUNDS))
def test_a_torn_last_write_is_survived(tmp_path, seed):
    draw = random.Random(seed)
    path = tmp_path / "store.db"
    store = open_store(str(path), owner=True)
    sizes, seq = [], 0
    for number in range(draw.randrange(3, 12)):
        rows = [EventRow(seq + each, number, "hall_pir.movement", 1.0) for each in range(1, draw.randrange(2, 60))]
        seq += len(rows)
        store.write([*rows, FactRow(number, "raised", f"batch {number}")])
        sizes.append((path.with_name("store.db-wal").stat().st_size, seq, number + 1))
    before = max(size for size, *_ in sizes[:-1])

    def cut(log):
        last = bytearray(log)
        if draw.random() < 0.5:
            del last[draw.randrange(before, len(last)) :]  # the tail never reached the disk
        else:
            for _ in range(draw.randrange(1, 30)):  # or it reached it as rubbish
                last[draw.randrange(before, len(last))] ^= draw.randrange(1, 256)
        return bytes(last)

    there = copied(path, tmp_path / "after", cut)
    store.close()
    again = open_store(str(there), owner=True)
    events = [row.seq for row in again.events_after(0)]
    facts = again.facts(0, 100)
    whole = [(seq, facts_) for _, seq, facts_ in sizes[-2:]]
    assert events == list(range(1, len(events) + 1))
    assert (len(events), len(facts)) in whole  # with the last transaction, or without it, never with half of it
    again.write([EventRow(len(events) + 1, 99, "hall_pir.movement", 1.0)])
    again.close()
    assert sqlite3.connect(there).execute("PRAGMA integrity_check").fetchone() == ("ok",)
