"""Taking up a home where its store left off."""

import hashlib
import json
from dataclasses import dataclass

from stillwell.engine.step import Stepper
from stillwell.plan.model import Plan
from stillwell.plan.read import read_plan
from stillwell.problem import Refusal
from stillwell.store.rows import StateRow
from stillwell.store.store import Store
from stillwell.watch.arrivals import instants
from stillwell.watch.home import Fact, Home, Work


def fingerprint(text: str) -> str:
    """Return what names a plan's text: the first 16 digits of its SHA-256."""
    return hashlib.sha256(text.encode()).hexdigest()[:16]


@dataclass(frozen=True, slots=True)
class Resumed:
    """A home that has decided everything up to now; what followed from it; the last event it knows.

    ``left_off_ms``: the last instant of which the store knows.
    """

    home: Home
    work: Work
    seq: int
    left_off_ms: int


def resume(store: Store, plan: Plan, text: str, now_ms: int) -> Resumed:
    """Take up the stored state, replay the events that came after it, and let the time since pass.

    Silence while nothing ran counts as silence. A plan other than the stored one is swapped in last, so that all
    timers go on. Where the stored state cannot be used (it is of another version), the rules begin anew; alarms and
    their calling go on.
    """
    state = store.state()
    last = store.last_seq()
    if state is None:
        return Resumed(Home(plan, now_ms), Work((Fact(now_ms, "watch begun", "watch"),)), last, now_ms)
    span = store.span_of_events()
    left_off_ms = max(state.decided_ms, span[1] if span else 0)
    began = Fact(now_ms, "watch started", "watch", why=f"it left off {max(0, now_ms - left_off_ms) // 1000} s ago")
    try:
        home, work = _replayed(store, state, plan, text, now_ms)
    except Exception as error:  # noqa: BLE001 - whatever ails the stored state, the watch must begin
        home = _anew(plan, state, now_ms)
        work = Work((Fact(now_ms, "rules begun anew", "watch", why=f"{type(error).__name__}: {error}"),))
        work += home.pass_time(max(now_ms, home.now))
    return Resumed(home, Work((began,)) + work, last, left_off_ms)


def _replayed(store: Store, state: StateRow, plan: Plan, text: str, now_ms: int) -> tuple[Home, Work]:
    same = fingerprint(text) == state.plan
    old = plan if same else _old_plan(store, state.plan)
    home = Home.resume(old, json.loads(state.snapshot))
    work = Work()
    for at_ms, events in instants(store.events_after(state.taken_seq)):
        work += home.report(at_ms, events)
    now_ms = max(now_ms, home.now)
    work += home.pass_time(now_ms)
    if not same:
        work += home.change_plan(now_ms, plan, "at the start")
    return home, work


def _old_plan(store: Store, of: str) -> Plan:
    text = store.plan_text(of)
    if text is None:
        raise Refusal(())
    return read_plan(text, "the plan in the store")


def _anew(plan: Plan, state: StateRow, now_ms: int) -> Home:
    now_ms = max(now_ms, state.decided_ms + 1)
    fresh = Home(plan, now_ms)
    rules = Stepper(fresh.program, now_ms).snapshot()
    try:
        stored = json.loads(state.snapshot)
        known = {name for name in stored["alarms"] if name in fresh.alarms}
        alarms = {name: stored["alarms"][name] for name in known}
        return Home.resume(plan, {"rules": rules, "alarms": alarms, "pause": stored["pause"]})
    except Exception:  # noqa: BLE001 - nothing of it can be used
        return fresh
