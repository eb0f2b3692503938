"""Comparing two plans in a process of its own: what it says, and what it refuses."""

import asyncio

import pytest
from tests.trial_home import PLAN

from stillwell.problem import Refusal
from stillwell.watch import apart, proving
from stillwell.watch.proving import compared


def test_a_longer_limit_is_worse_and_the_other_way_round_better(tmp_path, monkeypatch):
    """The folder that we stand in is no place to import from, whatever lies there."""
    (tmp_path / "stillwell").mkdir()
    (tmp_path / "stillwell" / "__init__.py").write_text("raise SystemExit", "utf-8")
    monkeypatch.chdir(tmp_path)
    worse, better = asyncio.run(compared(PLAN, PLAN.replace("for 3h", "for 6h"), 2026))
    assert {one.hazard for one in worse} == {"collapse"}
    assert better == ()
    assert any("At worst somebody knows" in one.sentence for one in worse)


def test_a_slip_of_the_pen_is_refused_with_its_place():
    with pytest.raises(Refusal) as refused:
        asyncio.run(compared(PLAN, PLAN.replace("for 3h", "fr 3h"), 2026))
    (problem,) = refused.value.problems
    assert problem.place.line == 1 + PLAN[: PLAN.index("no sign_of_life")].count("\n")


def test_a_proof_that_breaks_down_or_takes_for_ever_is_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(apart.sys, "executable", "/bin/false")
    with pytest.raises(Refusal, match="broke down"):
        asyncio.run(compared(PLAN, PLAN, 2026))
    endless = tmp_path / "endless"
    endless.write_text("#!/bin/sh\nexec tail -f /dev/null\n", "utf-8")
    endless.chmod(0o700)
    monkeypatch.setattr(apart.sys, "executable", str(endless))
    monkeypatch.setattr(proving, "LIMIT_S", 0.05)
    with pytest.raises(Refusal, match="too long"):
        asyncio.run(compared(PLAN, PLAN, 2026))
