"""The store, once over SQLite and once over PostgreSQL: what is written whole is there whole, and nothing else."""

import shutil
import sqlite3
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
from stillwell.store.store import look_into, open_store

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
    reading = {"seq": 0, "last": 9, "most": 1, "from_ms": 0, "until_ms": 1, "since_ms": 0, "signal": "x", "source": "x"}
    reading |= {"what": "x", "source_seq": 1, "fingerprint": "x", "alarm": "x", "asked_at_ms": 1, "token": "x"}
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
    with pytest.raises(StoreTrouble) as trouble:
        store.write([event(2, 20), FactRow(20, "raised", "Water"), event(3, 2**70)])  # no column is so wide
    assert trouble.value.unfit
    assert [row.seq for row in store.events_after(0)] == [1]
    assert store.facts(0, 100) == []
    store.write([event(2, 20), FactRow(20, "raised", "Water")])
    assert store.facts(0, 100) == [FactRow(20, "raised", "Water")]


def test_what_was_written_although_it_seemed_not_may_be_written_again(store):
    """A connection that breaks while a transaction ends leaves it open whether it counts."""
    first = [event(1, 10), FactRow(10, "raised", "Water"), FactRow(10, "unacknowledged", "Water"), MESSAGE]
    last_fact = store._last_fact
    store.write(first)
    store._last_fact = last_fact  # nobody heard that it was done
    store.write([*first, event(2, 20), FactRow(20, "acknowledged", "Water")])
    assert [row.seq for row in store.events_after(0)] == [1, 2]
    assert [row.what for row in store.facts(0, 100)] == ["raised", "unacknowledged", "acknowledged"]
    assert store.open_messages() == [MESSAGE]


def test_a_watch_that_was_cut_off_writes_no_more_once_another_has_taken_over(store):
    store.write([event(1, 10)])
    store._database.change("open_as_owner", [{}])  # as another watch does, after the server let go of our lock
    with pytest.raises(StoreTrouble) as trouble:
        store.write([event(2, 20)])
    assert not trouble.value.unfit
    assert store.last_seq() == 1


def test_whoever_only_looks_sees_all_and_writes_nothing(store, store_url):
    store.write([event(1, 10), MESSAGE])
    look = look_into(store_url)
    try:
        assert look.open_messages() == [MESSAGE]
        store.write([event(2, 20)])
        assert look.last_seq() == 2
        for change in (lambda: look.write([event(3, 30)]), lambda: look.erase(0, 100)):
            with pytest.raises(StoreTrouble):
                change()
        assert store.last_seq() == 2
    finally:
        look.close()


def test_looking_makes_no_store(tmp_path, store, store_url):
    with pytest.raises(Refusal):
        look_into(str(tmp_path / "misspelt.db"))
    assert not (tmp_path / "misspelt.db").exists()
    other = f"{store_url.partition('#')[0]}#nobody" if store_url.startswith("postgres") else str(tmp_path / "empty.db")
    if not store_url.startswith("postgres"):
        sqlite3.connect(other).execute("CREATE TABLE x (y)")
    with pytest.raises(Refusal, match="this is no store"):
        look_into(other)


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


def test_forgetting_goes_by_pieces_and_takes_no_more_than_it_may(store):
    store.write([event(number, number) for number in range(1, 101)])
    store.write([FactRow(50, "raised", "Water"), FactRow(95, "raised", "Water"), StateRow(60, 100, "p", "{}")])
    assert not store.forget(91, most=40)
    assert [row.seq for row in store.events_after(0)] == list(range(41, 101))
    assert store.forget(91, most=40)
    assert [row.seq for row in store.events_after(0)] == list(range(61, 101))  # not decided on yet
    assert [row.at_ms for row in store.facts(0, 1000)] == [95]


@pytest.mark.parametrize("how", ["erase", "forget"])
def test_what_is_erased_is_in_no_file_any_more(tmp_path, how):
    """Not in a free page, not in the log (sqlite.org, "PRAGMA secure_delete" and "wal_checkpoint")."""
    path = tmp_path / "store.db"
    store = open_store(str(path), owner=True)
    names = ["Marrow Cottage", "Ms Aldertree", "pantry_secret"]
    for number in range(1, 500):
        why = names[1] * 40
        store.write([EventRow(number, number, names[2], 1.0), FactRow(number, "raised", names[0], "", why)])
    store.write([StateRow(499, 499, "p", "{}"), FactRow(5_000, "raised", "stays")])
    in_files = lambda: b"".join(file.read_bytes() for file in tmp_path.iterdir())  # noqa: E731 - asked twice
    assert all(name.encode() in in_files() for name in names)
    if how == "erase":
        store.erase(0, 1_000)
    else:
        assert store.forget(1_000)
    left = in_files()
    assert not [name for name in names if name.encode() in left]
    assert b"stays" in left
    store.close()


def test_erasing_says_when_a_reader_keeps_traces_in_the_log(tmp_path, monkeypatch):
    monkeypatch.setattr("stillwell.store.sqlite.PATIENCE_S", 0.0)
    path = str(tmp_path / "store.db")
    store = open_store(path, owner=True)
    store.write([FactRow(1, "raised", "Water")])
    reader = sqlite3.connect(path, isolation_level=None)
    reader.execute("BEGIN")
    reader.execute("SELECT * FROM fact").fetchall()
    with pytest.raises(StoreTrouble, match="still being read"):
        store.erase(0, 100)
    assert store.forget(100)  # which does not wait, nor complain: the next time will do
    reader.close()
    store.erase(0, 100)
    store.close()


def test_looking_after_a_kill_sees_all_that_was_committed(tmp_path):
    """What a killed watch leaves: a log that nobody has put away, and no index of it."""
    path = tmp_path / "store.db"
    store = open_store(str(path), owner=True)
    store.write([event(1, 10), event(2, 20)])
    after = tmp_path / "after"
    after.mkdir()
    for name in ("store.db", "store.db-wal"):
        shutil.copy(tmp_path / name, after / name)
    store.close()
    look = look_into(str(after / "store.db"))
    assert look.last_seq() == 2
    look.close()


def test_the_files_are_for_their_owner_only(tmp_path):
    for number, owner in enumerate((True, False)):
        folder = tmp_path / str(number)
        store = open_store(str(folder / "store.db"), owner=owner)
        store.write([event(1, 10)])
        files = list(folder.iterdir())
        assert len(files) >= 3  # the file, its log, the index of the log
        assert {file.stat().st_mode & 0o077 for file in files} == {0}
        store.close()
    loose = tmp_path / "0" / "store.db"
    loose.chmod(0o644)
    open_store(str(loose), owner=True).close()
    assert loose.stat().st_mode & 0o077 == 0


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
