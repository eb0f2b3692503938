"""Counting what cannot be used: nothing is lost, and no flood of sources fills the memory."""

from stillwell.store.rows import UnreadRow
from stillwell.watch.payload import Unread
from stillwell.watch.tally import MOST_SOURCES, OTHERS, Tally


def test_counts_and_what_is_to_be_stored():
    tally = Tally()
    tally.known([UnreadRow("too long", "a", 5, 1, 2)])
    tally.count(Unread("too long", "a"), 10)
    tally.count(Unread("too long", "a"), 20)
    tally.count(Unread("too long", "b"), 15)
    assert tally.taken() == [UnreadRow("too long", "a", 2, 10, 20), UnreadRow("too long", "b", 1, 15, 15)]
    assert tally.taken() == []
    assert tally.totals() == [UnreadRow("too long", "a", 7, 1, 20), UnreadRow("too long", "b", 1, 15, 15)]


def test_a_flood_of_sources_is_counted_together():
    tally = Tally()
    for number in range(10_000):
        tally.count(Unread("too long", f"source {number}"), number)
    totals = {row.source: row.times for row in tally.totals()}
    assert len(totals) == MOST_SOURCES + 1
    assert sum(totals.values()) == 10_000
    assert totals[OTHERS] == 10_000 - MOST_SOURCES


def test_names_from_outside_are_made_harmless():
    tally = Tally()
    tally.count(Unread("too long", "\x1b[2J\n" + "x" * 1_000), 1)
    (row,) = tally.totals()
    assert row.source.startswith("?[2J?xxx")
    assert len(row.source) <= 120
