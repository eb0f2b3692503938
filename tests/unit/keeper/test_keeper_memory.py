import sqlite3

import pytest

from stillwell.alarms.call_list import CallList, Channel, Responder, Step
from stillwell.keeper import dark
from stillwell.keeper.dark import Fact, Terms
from stillwell.keeper.memory import KEPT_MS, Letter, Memory, Refused, Trouble, Write
from stillwell.problem import Refusal

pytestmark = pytest.mark.base

CALLS = CallList("x", (Responder("ann", (Channel("text"),)),), (Step(("ann",), "text", 60),), "repeat", 60)
STATE = dark.pass_time(Terms("mill", 1000, 0, CALLS), dark.begin(Terms("mill", 1000, 0, CALLS), 0), 5000).state
LETTER = Letter("k1", "mill", "ann", "text", 1000, 1000, "dark", "It is dark.")


def test_what_was_written_is_there_again(store):
    memory = Memory(store)
    refused = Refused("mill", "forged", 3, 9)
    memory.write(Write(7, [("mill", "mark", STATE)], [LETTER], [("mill", Fact(1000, "dark"))], [refused]))
    secret = memory.secret()
    memory.close()
    again = Memory(store)
    assert again.states() == {"mill": ("mark", STATE)}
    assert again.open_letters() == [LETTER]
    assert again.last_facts("mill") == [Fact(1000, "dark")]
    assert again.refused() == [refused]
    assert again.secret() == secret
    assert len(secret) == 32
    again.close()


def test_all_of_a_write_or_nothing(store):
    memory = Memory(store)
    broken = Fact(1000, None)  # the table takes no such fact
    with pytest.raises(Trouble):
        memory.write(Write(7, [("mill", "mark", STATE)], [LETTER], [("mill", broken)]))
    assert (memory.states(), memory.open_letters()) == ({}, [])
    memory.write(Write(7, [("mill", "mark", STATE)]))
    assert list(memory.states()) == ["mill"]
    memory.close()


def test_a_letter_is_open_until_it_ended(store):
    memory = Memory(store)
    sent = Letter("k1", "mill", "ann", "text", 1000, 1000, "dark", "It is dark.", 1, 0, 2000, 2000)
    memory.write(Write(7, letters=[LETTER]))
    assert memory.told("mill", 1000) == []
    memory.write(Write(7, letters=[sent]))
    assert (memory.open_letters(), memory.told("mill", 1000), memory.told("mill", 7)) == ([], ["ann"], [])
    memory.close()


def test_old_facts_and_letters_go_and_open_letters_stay(store):
    memory = Memory(store)
    ended = Letter("k2", "mill", "ann", "text", 1000, 1000, "x", "x", ended_ms=1000)
    memory.write(Write(7, letters=[LETTER, ended], facts=[("mill", Fact(1000, "dark")), ("mill", Fact(2000, "heard"))]))
    memory.tidy(KEPT_MS + 1500)
    assert memory.open_letters() == [LETTER]
    assert memory.last_facts("mill") == [Fact(2000, "heard")]
    memory.close()


def test_only_one_keeper_has_it_and_only_its_owner_reads_it(store):
    memory = Memory(store)
    assert store.stat().st_mode & 0o777 == 0o600
    with pytest.raises(Refusal, match="another keeper"):
        Memory(store)
    memory.close()
    Memory(store).close()


def test_it_is_safe_against_a_kill(store):
    memory = Memory(store)
    asked = [memory._database.execute(f"PRAGMA {name}").fetchone()[0] for name in ("journal_mode", "synchronous")]
    assert asked == ["wal", 2]  # 2 is FULL: sqlite.org/pragma.html, synchronous
    memory.close()


def test_a_file_that_is_none_of_ours_is_refused(store):
    store.write_bytes(b"this is no database, whatever its name" * 100)
    with pytest.raises(Refusal, match="cannot be opened"):
        Memory(store)


def test_a_folder_is_refused(tmp_path):
    with pytest.raises(Refusal, match="cannot be opened"):
        Memory(tmp_path)


def test_a_newer_one_is_refused(store):
    with sqlite3.connect(store) as database:
        database.execute("PRAGMA user_version = 99")
    database.close()
    with pytest.raises(Refusal, match="newer version"):
        Memory(store)


def test_a_damaged_state_is_refused(store):
    memory = Memory(store)
    memory.write(Write(7, [("mill", "mark", STATE)]))
    memory._database.execute("UPDATE home SET state = '{}'")
    with pytest.raises(Refusal, match="state of mill"):
        memory.states()
    memory.close()
