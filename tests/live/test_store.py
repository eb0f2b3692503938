"""The store, once over SQLite and once over PostgreSQL: what is written whole is there whole, and nothing else."""

from dataclasses import replace

import pytest

from stillwell.problem import Refusal
from stillwell.store.database import StoreTrouble, migrations, queries
from stillwell.store.rows import (
    AnswerRow,
    CommandMark,
    CommandRow,
    CounterRow,
    EventRow,
    FactRow,
    MessageMark,
    MessageRow,
    PlanRow,
    StateRow,
    UnreadRow,
)
from stillwell.store.store import open_store

MESSAGE = MessageRow("k1", "Water", "ben", "text", 1000, 1000, 900, drill=True)
COMMAND = CommandRow("lamp 5 on", "lamp", switch_on=True, at_ms=5)


def event(seq, at_ms, value=1.0, **more):
    return EventRow(seq, at_ms, "hall_pir.movement", value, **more)


def test_a_fresh_store_has_run_every_migration(store):
    assert store._database.rows("version") == [(migrations()[-1][0],)]
    assert store.last_seq() == 0
    assert store.state() is None
    assert store.span_of_events() is None


def test_every_query_runs(store):
    """A misspelt column in a query that no other test reaches is found here."""
    reading = {"seq": 0, "most": 1, "from_ms": 0, "until_ms": 1, "since_ms": 0, "signal": "x", "source": "x"}
    reading |= {"source_seq": 1, "fingerprint": "x", "alarm": "x", "asked_at_ms": 1, "token": "x"}
    for name, sql in queries().items():
        if sql.startswith("SELECT"):
            wanted = {key: value for key, value in reading.items() if f":{key}" in sql}
            assert isinstance(store._database.rows(name, wanted), list)


def test_what_is_written_is_read_back(store, store_url):
    rows = [
        event(1, 1000, source="pir", source_seq=7),
        event(2, 1001, None, stamped_ms=990),
        event(3, 1002, 0.1, late=True),
    ]
    plan = PlanRow("abc", '# a plan\nname = "Älg"\n', 1, "eve")
    state = StateRow(3, 1002, "abc", '{"x": NaN}')
    facts = [FactRow(10, "raised", "Water"), FactRow(11, "answered looking", "Water", "ben", "on my way")]
    other = [
        MESSAGE,
        COMMAND,
        AnswerRow("t", "Water", "ben", "looking", 12),
        UnreadRow("too long", "x", 2, 5, 6),
        CounterRow("heartbeat", 2**40),
    ]
    store.write([*rows, plan, state, *facts, *other])
    again = open_store(store_url)
    try:
        assert list(again.events_after(0)) == rows
        assert list(again.events_after(2)) == rows[2:]
        assert list(again.events_between(1001, 1002)) == rows[1:2]
        assert again.plan_text("abc") == plan.text
        assert again.plan_text("other") is None
        assert again.state() == state
        assert again.facts(0, 100) == facts
        assert again.last_facts(1) == facts[1:]
        assert again.open_messages() == [MESSAGE]
        assert again.messages_of_asking("Water", 1000) == [MESSAGE]
        assert again.open_commands() == [COMMAND]
        assert again.answer("t") == AnswerRow("t", "Water", "ben", "looking", 12)
        assert again.answer("u") is None
        assert again.unread() == [UnreadRow("too long", "x", 2, 5, 6)]
        assert again.counters() == {"heartbeat": 2**40}
        assert again.last_seq() == 3
        assert again.last_reports(0) == {"hall_pir.movement": 1002}
    finally:
        again.close()


def test_all_or_nothing(store):
    store.write([event(1, 10)])
    with pytest.raises(StoreTrouble):
        store.write([event(2, 20), FactRow(20, "raised", "Water"), event(1, 30)])  # the number is taken
    assert [row.seq for row in store.events_after(0)] == [1]
    assert store.facts(0, 100) == []
    store.write([event(2, 20), FactRow(20, "raised", "Water")])
    assert store.facts(0, 100) == [FactRow(20, "raised", "Water")]


def test_a_message_with_the_same_key_is_the_same_message(store):
    store.write([MESSAGE, replace(MESSAGE, person="eve"), MESSAGE])
    assert store.open_messages() == [MESSAGE]


def test_marks_move_a_message_on_until_it_ends(store):
    tried = replace(MESSAGE, attempts=1, next_try_ms=2000, why="no route")
    store.write([MESSAGE, MessageMark(tried)])
    assert store.open_messages() == [tried]
    sent = replace(tried, attempts=2, sent_ms=2001, ended_ms=2001, why="")
    store.write([MessageMark(sent)])
    assert store.open_messages() == []
    assert store.messages_between(0, 10_000) == [sent]


def test_marks_move_a_command_on(store):
    done = replace(COMMAND, attempts=1, sent_ms=6, confirmed_ms=9, ended_ms=9)
    store.write([COMMAND, CommandMark(done)])
    assert store.open_commands() == []
    assert store.commands_between(0, 10) == [done]


def test_counts_add_up(store):
    store.write([UnreadRow("too long", "x", 2, 5, 6), UnreadRow("too long", "y", 1, 7, 7)])
    store.write([UnreadRow("too long", "x", 3, 8, 9)])
    assert store.unread() == [UnreadRow("too long", "x", 5, 5, 9), UnreadRow("too long", "y", 1, 7, 7)]


def test_a_report_seen_before_is_known_by_signal_source_and_number(store):
    store.write([event(1, 5000, source="pir", source_seq=7)])
    asked = [
        ("hall_pir.movement", "pir", 7, 4000),
        ("hall_pir.movement", "pir", 7, 6000),
        ("hall_pir.movement", "pir", 8, 0),
        ("hall_pir.battery", "pir", 7, 0),
        ("hall_pir.movement", "other", 7, 0),
    ]
    assert store.seen(asked) == [("hall_pir.movement", "pir", 7)]


@pytest.mark.parametrize("text", ["a\0b", "\ud800", "\U0001f6b0 søster", "x\n\ty", "'; DROP TABLE event; --"])
def test_no_text_from_outside_is_too_odd(store, text):
    store.write([FactRow(1, "answered", "Water", text, text), UnreadRow("too long", text, 1, 1, 1)])
    (fact,) = store.facts(0, 10)
    assert fact.why.replace("?", "") == text.replace("\0", "").encode("utf-8", "ignore").decode()


def test_erasing_a_span_takes_what_is_over_and_leaves_what_is_still_needed(store):
    sent = replace(MESSAGE, key="k0", at_ms=50, ended_ms=60)
    store.write([*(event(number, number * 10) for number in range(1, 11)), StateRow(8, 80, "p", "{}")])
    store.write([FactRow(50, "raised", "Water"), FactRow(150, "raised", "Water"), sent, replace(MESSAGE, at_ms=55)])
    assert store.erase(30, 1_000_000) == 6 + 2 + 1
    assert [row.seq for row in store.events_after(0)] == [1, 2, 9, 10]  # 9 and 10 are not decided on yet
    assert [row.key for row in store.open_messages()] == ["k1"]
    assert store.last_seq() == 10


def test_numbers_are_not_used_again_after_erasing(store):
    store.write([event(5, 50), StateRow(5, 50, "p", "{}")])
    store.erase(0, 1000)
    assert store.last_seq() == 5


def test_many_events_come_page_by_page_in_order(store):
    store.write([event(number, number) for number in range(1, 25_001)])
    assert [row.seq for row in store.events_after(0)] == list(range(1, 25_001))


def test_only_one_watch_owns_a_store(store, store_url):
    with pytest.raises(Refusal, match="another process holds it"):
        open_store(store_url, owner=True)


def test_a_store_of_a_newer_program_is_refused(store, store_url):
    store._database.change("set_version", [{"number": 999}])
    with pytest.raises(Refusal, match="newer version"):
        open_store(store_url)


def test_homes_in_one_database_do_not_meet(postgres):
    one, other = open_store(f"{postgres}#mill_lane", owner=True), open_store(f"{postgres}#hill_road", owner=True)
    try:
        one.write([event(1, 10)])
        assert other.last_seq() == 0
    finally:
        one.close()
        other.close()


def test_a_lost_connection_is_made_again(postgres):
    store = open_store(f"{postgres}#reconnects", owner=True)
    other = open_store(f"{postgres}#elsewhere")
    try:
        pid = store._database._there().info.backend_pid
        other._database._there().execute(b"SELECT pg_terminate_backend(%s)", [pid])
        with pytest.raises(StoreTrouble):
            store.write([event(1, 10)])
        store.write([event(1, 10)])
        assert store.last_seq() == 1
    finally:
        store.close()
        other.close()


@pytest.mark.parametrize("name", ["#Big", "#a b", "#x;y"])
def test_a_name_that_is_no_name_is_refused(name):
    pytest.importorskip("psycopg")
    with pytest.raises(Refusal, match="cannot be the name"):
        open_store(f"postgresql://nowhere/x{name}")


def test_a_database_that_is_not_there_is_refused_with_a_word():
    pytest.importorskip("psycopg")
    with pytest.raises(Refusal, match="cannot be opened"):
        open_store("postgresql://app@127.0.0.1:1/x")
