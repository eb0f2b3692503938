"""With which plan and clock a watch begins: where its store left off, whatever has become of the file meanwhile."""

from dataclasses import dataclass
from pathlib import Path
from typing import Final

from stillwell.files import read_text
from stillwell.plan.model import Plan
from stillwell.plan.read import read_plan
from stillwell.problem import Refusal, refuse
from stillwell.store.rows import CounterRow
from stillwell.store.store import Store
from stillwell.watch.clock import Clock, FastClock, SystemClock, wall_ms
from stillwell.watch.resume import fingerprint

TRIAL: Final = "trial"
"""The counter that marks the store of a trial."""


@dataclass(frozen=True, slots=True)
class Trial:
    """A watch that is only tried out: its time runs ``speed`` times as fast."""

    speed: float


@dataclass(frozen=True, slots=True)
class InUse:
    """The plan to run, and its text; ``remark`` where the file says something else."""

    plan: Plan
    text: str
    remark: str = ""


def plan_in_use(store: Store, file: Path) -> InUse:
    """Return the plan that was accepted last, or that of the file where there is none yet.

    A plan takes effect by being accepted, not by lying there when the power comes back: a file that was changed since,
    or broken, is for `stillwell change`. Raises Refusal where there is no plan at all.
    """
    try:
        text = read_text(file)
        plan = read_plan(text, str(file))
        if _fingerprint(store) in (None, fingerprint(text)):
            return InUse(plan, text)
        accepted = _accepted(store)
        if accepted is None:
            return InUse(plan, text)
    except Refusal as refusal:
        accepted = _accepted(store)
        if accepted is None:
            raise
        why = f"it cannot be used: {refusal.problems[0].what}" if refusal.problems else "it cannot be used"
        return InUse(accepted.plan, accepted.text, f"{file} is not the plan in use ({why}); the accepted one goes on.")
    remark = (
        f"{file} differs from the plan in use, which goes on. To take what the file says: stillwell change {file}; "
        "with --compare it only says what that would make worse."
    )
    return InUse(accepted.plan, accepted.text, remark)


def clock_for(store: Store, trial: Trial | None) -> Clock:
    """Return the clock: engine time never runs backwards, not even over a restart.

    Raises Refusal where a trial would use the store of a watch in earnest, or the other way round.
    """
    state = store.state()
    tried = TRIAL in store.counters()
    if trial is not None and state is None:
        store.write([CounterRow(TRIAL, 1)])
    elif trial is not None and not tried:
        raise refuse(
            "this is the store of a watch in earnest, and a trial would mix up its times", "Name another store."
        )
    elif trial is None and tried:
        raise refuse("this is the store of a trial", "Name another store, or go on with --speed.")
    left_off_ms = 0 if state is None else state.decided_ms
    if trial is None:
        return SystemClock(not_before_ms=left_off_ms)
    return FastClock(wall_ms() if state is None else left_off_ms + 1, trial.speed)


def _fingerprint(store: Store) -> str | None:
    state = store.state()
    return None if state is None else state.plan


def _accepted(store: Store) -> InUse | None:
    mark = _fingerprint(store)
    text = None if mark is None else store.plan_text(mark)
    if text is None:
        return None
    try:
        return InUse(read_plan(text, f"the plan {fingerprint(text)} in the store"), text)
    except Refusal:  # of another version of this program
        return None
