"""Each proof is worked out once, one at a time. The order of what happens is held by locks, not by waiting."""

import subprocess
import sys
from pathlib import Path
from threading import Event, Lock

import pytest
from tests.smallest import alarm, plan_of

from stillwell.problem import Refusal, refuse
from stillwell.web.proving import proofs
from stillwell.web.proving.proofs import KEPT, Proofs

LIFE = {"parts": {"pir": {"kind": "movement"}}, "signals": {"sign_of_life": "pir.movement"}}
PLAN = plan_of(**LIFE, alarm=[alarm("no sign_of_life for 30min")])
WAIT_S = 60


def test_whoever_asks_again_gets_the_same_proof():
    kept = Proofs()
    work = kept.of(PLAN, "text", "home.toml", 2026)
    assert kept.of(PLAN, "text", "home.toml", 2026) is work
    proved = work.done.result(WAIT_S)
    assert proved.proof.hazards[0].normal.worst_s == pytest.approx(30 * 60, abs=0.01)
    others = [kept.of(PLAN, "text", "home.toml", 2027), kept.of(PLAN, "other text", "home.toml", 2026)]
    assert work not in others
    for other in others:  # none is left to run into the next test
        other.done.result(WAIT_S)


def test_one_is_worked_out_at_a_time_and_each_says_how_far_it_is(monkeypatch):
    alone, go = Lock(), Event()

    def job(_plan, text, _file, _year, tell):
        assert alone.acquire(blocking=False)
        tell(0.5, text)
        assert go.wait(WAIT_S)
        alone.release()
        return text

    monkeypatch.setattr(proofs, "_proved", job)
    kept = Proofs()
    works = [kept.of(PLAN, text, "home.toml", 2026) for text in ("one", "two", "three")]
    go.set()
    assert [work.done.result(WAIT_S) for work in works] == ["one", "two", "three"]
    assert [(work.share, work.hazard) for work in works] == [(0.5, "one"), (0.5, "two"), (0.5, "three")]


def test_what_cannot_be_proved_is_told_to_whoever_asks(monkeypatch):
    def job(*_given):
        raise refuse("this rule cannot be proved exactly", "Say it otherwise.")

    monkeypatch.setattr(proofs, "_proved", job)
    with pytest.raises(Refusal, match="cannot be proved"):
        Proofs().of(PLAN, "text", "home.toml", 2026).done.result(WAIT_S)


def test_only_the_last_few_are_kept_and_those_not_begun_are_let_go(monkeypatch):
    begun, go = Event(), Event()

    def job(_plan, text, *_given):
        begun.set()
        assert go.wait(WAIT_S)
        return text

    monkeypatch.setattr(proofs, "_proved", job)
    kept = Proofs()
    first = kept.of(PLAN, "first", "home.toml", 2026)
    assert begun.wait(WAIT_S)
    others = [kept.of(PLAN, str(number), "home.toml", 2026) for number in range(KEPT + 1)]
    go.set()
    assert first.done.result(WAIT_S) == "first"  # it had begun
    assert others[0].done.cancelled()
    assert [work.done.result(WAIT_S) for work in others[1:]] == [str(number) for number in range(1, KEPT + 1)]


ENDLESS = """
from tests.smallest import plan_of
from stillwell.web.proving import proofs

def endless(plan, year, progress):
    print("begun", flush=True)
    while True:
        progress(0.0, "collapse")

proofs.prove = endless
kept = proofs.Proofs()
for text in ("one", "two"):
    kept.of(plan_of(), text, "home.toml", 2026)
"""


def test_a_program_that_is_told_to_end_does_not_wait_for_a_proof():
    """As a program does that leaves its last line: Python then joins its threads (threading, thread objects)."""
    command, root = [sys.executable, "-c", ENDLESS], Path(__file__).parents[3]
    found = subprocess.run(command, cwd=root, capture_output=True, text=True, timeout=WAIT_S, check=False)
    assert (found.returncode, found.stderr) == (0, "")
