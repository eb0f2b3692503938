"""What the proof of a hazard says with nothing broken: noticed never, too late, or only if somebody remembers."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from stillwell.civiltime import Span
from stillwell.plan.fault import Path
from stillwell.plan.kinds import OUTSIDE
from stillwell.plan.loops import placed_rules
from stillwell.plan.model import Hazard, Plan
from stillwell.plan.names import part_signals_in
from stillwell.proof import catalogue
from stillwell.proof.corners import Choice, on_purpose
from stillwell.proof.curve import NEVER, Summary
from stillwell.proof.deadlines import Deadlines, counted, deadlines, late, never
from stillwell.proof.findings.finding import Finding, finding, quoted
from stillwell.proof.findings.spans import at_most, hours
from stillwell.proof.results import HazardResult, Proof
from stillwell.rules.formula import SetState


def place(plan: Plan, hazard: Hazard, *keys: str) -> Path:
    """Return the path of a hazard, or of a key of it."""
    return ("hazard", plan.hazard.index(hazard), *keys)


def hazards_without_alarm(plan: Plan) -> Iterator[Finding]:
    """Yield the hazards that no alarm is there for, and those that no part can tell of."""
    watched = {alarm.hazard for alarm in plan.alarm}
    for hazard in plan.hazard:
        if hazard.kind == "blind":
            told = hazard.name in watched or plan.upkeep is not None
            remedy = "Write [upkeep] with a call list: then somebody hears when a part stops reporting."
        else:
            told = hazard.name in watched
            remedy = f'Add an [[alarm]] with hazard = "{hazard.name}".'
        if not told:
            text = f'No alarm is there for "{hazard.name}": whatever happens, nobody is told of it.'
            yield finding(plan, "hazard-without-alarm", place(plan, hazard), "danger", text, remedy)
        elif hazard.kind != "blind" and not catalogue.onsets(plan, hazard):
            text = f'No part of the plan can tell of "{hazard.name}", so its alarm never rings for it.'
            remedy = f"Fit a part that notices it (kind of hazard: {hazard.kind}), or name one under parts or openings."
            yield finding(plan, "hazard-without-detector", place(plan, hazard), "danger", text, remedy)


def noticed_too_late(proof: Proof) -> Iterator[Finding]:
    """Yield what is noticed never or too late, at which hours it begins then and by how much."""
    for result in proof.hazards:
        if result.worst is None or result.normal.share_within >= 1 - _A_SPECK:
            continue
        limit = deadlines(proof.plan, result)
        zone, whole = proof.program.home.zone, (int(result.told.points[0]), result.told.end)
        nights = list(zip(limit.nights[0].tolist(), limit.nights[1].tolist(), strict=True))
        unnoticed, tardy = never(result, limit), late(result, limit)
        door = _taken_for_gone_out(proof, result) if unnoticed else ""
        if door:
            yield _gone_out(proof, result, door)
        elif unnoticed:
            when = (
                "at any hour of the night"
                if limit.only_at_night and unnoticed == nights
                else hours(zone, unnoticed, whole)
            )
            text = f'"{result.hazard.name}" is never noticed if it begins {when}: no alarm is raised then.'
            remedy = "Let an alarm for it also listen at those hours."
            path = place(proof.plan, result.hazard)
            yield finding(proof.plan, "never-noticed", path, "danger", text, remedy)
        tardy = _without(tardy, unnoticed)
        if tardy:
            yield _missed(proof, result, limit, hours(zone, tardy, whole))


_A_SPECK = 1e-9
"""Shares of time nearer to the whole than this differ from it by rounding only."""


def _missed(proof: Proof, result: HazardResult, limit: Deadlines, when: str) -> Finding:
    hazard = result.hazard
    excess_ms, notice_ms, deadline_ms = _worst_excess(result, limit)
    text = (
        f'"{hazard.name}" is noticed too late if it begins {when}: only after up to {at_most(notice_ms)}, '
        f"where {at_most(deadline_ms)} are allowed; {at_most(excess_ms)} too late."
    )
    clock = [one.worst_s for one in result.clock_changes if one.worst_s is not None]
    if result.normal.worst_s is not None and max(clock, default=0.0) > result.normal.worst_s:
        text += f" In a week in which the clocks change it is up to {at_most(max(clock) * 1000)}."
    remedy = (
        "Shorten the limit of an alarm for it, widen its hours, or put somebody on its call list who can be reached "
        "then; or allow more time, if that is what is meant."
    )
    return finding(proof.plan, "deadline-missed", place(proof.plan, hazard, "deadline"), "warning", text, remedy)


def _worst_excess(result: HazardResult, limit: Deadlines) -> tuple[float, float, float]:
    """Return, in milliseconds, the most that a deadline is missed by, the notice time and the deadline there."""
    worst = (0.0, 0.0, 0.0)
    for curve in counted(result.told, limit):
        points, stops = curve.points, curve.stops()
        allowed = limit.at(np.minimum(points + 1, stops - 1))
        told = curve.value != NEVER
        notice = np.where(told, curve.value, 0) - np.where(curve.fixed, points, 0)
        excess = np.where(told, notice - allowed, 0)
        if len(excess) and float(excess.max()) > worst[0]:
            at = int(excess.argmax())
            worst = float(excess[at]), float(notice[at]), float(allowed[at])
    return worst


def _without(spans: Sequence[Span], others: Sequence[Span]) -> list[Span]:
    """Return stretches less those that lie in them."""
    left = list(spans)
    for start, end in others:
        left = [piece for a, b in left for piece in ((a, min(b, start)), (max(a, end), b)) if piece[0] < piece[1]]
    return left


def _taken_for_gone_out(proof: Proof, result: HazardResult) -> str:
    """Return the state by which the house takes the resident for gone out in the worst case, by way of a door."""
    plan = proof.plan
    if result.hazard.kind not in ("collapse", "wandering") or result.worst is None:
        return ""
    doors = {name for name, opening in plan.openings.items() if OUTSIDE in opening.rooms}
    contacts = {name for name, part in plan.parts.items() if part.kind == "contact" and part.opening in doors}
    for state, value in result.worst.world.states.items():
        if on_purpose(plan, state):
            continue
        for _, rule in placed_rules(plan):
            wanted = plan.states[state].values[value]
            actions = (deed.action for deed in rule.do)
            sets = any(isinstance(one, SetState) and (one.state, one.value) == (state, wanted) for one in actions)
            reads = {name.partition(".")[0] for name in part_signals_in(plan, rule.when.formula)}
            if sets and reads & contacts:
                return f"{state} is {wanted}"
    return ""


def _gone_out(proof: Proof, result: HazardResult, state: str) -> Finding:
    name = result.hazard.name
    text = (
        f'When the house has taken the resident for gone out ({state}), "{name}" may never be noticed: somebody who '
        "turns back at the door, or lets a visitor out, and falls then, lies there with no alarm to come."
    )
    remedy = (
        "Bound it: let the state end by itself after some hours, or add an alarm with a longer limit that does not ask "
        "for it, and let any sign of life in the house end it."
    )
    path = ("states", state.partition(" ")[0])
    return finding(proof.plan, "taken-for-gone-out", path, "danger", text, remedy)


@dataclass(frozen=True)
class _Left:
    """A state left at another value than the best: which, and the hazards that suffer by it."""

    state: str
    best: int
    left: int
    never: tuple[str, ...]
    later: tuple[str, ...]


def must_be_remembered(proof: Proof) -> Iterator[Finding]:
    """Yield each state that somebody must set, or set back, for alarms to work."""
    plan = proof.plan
    for state in plan.states:
        for one in _left(proof, state):
            values = plan.states[state].values
            bad = []
            if one.never:
                bad.append(f"{quoted(one.never)} may never be noticed")
            if one.later:
                bad.append(f"{quoted(one.later)} later than now")
            text = (
                f"Somebody must remember {state}: where it is left at {values[one.left]} rather than "
                f"{values[one.best]}, {' and '.join(bad)}."
            )
            remedy = (
                f"Let the house set it back by itself, by signs of life or after some time, or remind somebody while "
                f"it is {values[one.left]}."
            )
            yield finding(plan, "must-be-remembered", ("states", state), "warning", text, remedy)


def _left(proof: Proof, state: str) -> Iterator[_Left]:
    """Yield each value that a state may be left at to the harm of hazards, when all else is set for the best."""
    found: dict[tuple[int, int], tuple[list[str], list[str]]] = {}
    for result in proof.hazards:
        best = dict(result.choice.states)
        for choice, then in result.otherwise.items():
            value = _only_other(best, choice, state)
            if value is not None and _is_worse(then, result.normal):
                unnoticed, later = found.setdefault((best[state], value), ([], []))
                (unnoticed if then.worst_s is None else later).append(result.hazard.name)
    for (value, left), (unnoticed, later) in found.items():
        yield _Left(state, value, left, tuple(unnoticed), tuple(later))


def _only_other(best: dict[str, int], choice: Choice, state: str) -> int | None:
    differing = {name: value for name, value in choice.states if best[name] != value}
    return differing[state] if set(differing) == {state} else None


def _is_worse(then: Summary, normal: Summary) -> bool:
    return then.share_never > normal.share_never + _A_SPECK or then.share_within < normal.share_within - _A_SPECK
