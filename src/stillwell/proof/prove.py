"""How soon will somebody know? Every hazard of a plan, at every onset, with nothing broken and with any one fault."""

from collections.abc import Callable, Collection, Sequence
from datetime import UTC, datetime
from functools import cache

import numpy as np

from stillwell.civiltime import Span, dst_weeks, ordinary_week
from stillwell.engine.axis import Axis, runs
from stillwell.engine.columns import Columns, Reports
from stillwell.engine.program import Program, RuleNode, compile_formula, compile_plan
from stillwell.plan.model import Hazard, Plan
from stillwell.proof import catalogue, corners
from stillwell.proof.catalogue import Onset
from stillwell.proof.corners import Choice
from stillwell.proof.curve import NEVER, Curve, Summary, badness, constant, joined_summary, summary
from stillwell.proof.faults import Fault, single_faults
from stillwell.proof.last_signs import LastSigns
from stillwell.proof.lines import has_sun
from stillwell.proof.raising import Raising
from stillwell.proof.results import FaultResult, HazardResult, Proof
from stillwell.proof.tails import tails_of
from stillwell.proof.tell import Telling
from stillwell.proof.world import DAY_MS, Stage
from stillwell.record.columns import TRUE, Times
from stillwell.replay.silence import silenced_by_collapse


def prove(
    plan: Plan,
    year: int,
    hazards: Sequence[str] = (),
    progress: Callable[[float, str], None] | None = None,
    *,
    faults: Collection[str] | None = None,
    pairs: bool = False,
) -> Proof:
    """Prove a plan. ``hazards`` narrows it to some, ``progress`` is told the share done and what comes next.

    ``faults`` narrows the single faults to some, by their text, an empty one to none; with ``pairs`` any two of them
    may be there at once.

    Raises Refusal where a rule cannot be proved exactly.
    """
    program = compile_plan(plan)
    wanted = [hazard for hazard in plan.hazard if not hazards or hazard.name in hazards]
    prover = Prover(plan, program, year)
    results = []
    for number, hazard in enumerate(wanted):
        if progress is not None:
            progress(number / len(wanted), hazard.name)
        results.append(prover.hazard(hazard, faults, pairs=pairs))
    return Proof(plan, program, year, prover.week, tuple(results))


class Prover:
    """A plan made ready to be proved for a year."""

    def __init__(self, plan: Plan, program: Program, year: int) -> None:
        self.plan = plan
        self.program = program
        zone = program.home.zone
        self.week = ordinary_week(zone, year)
        self.changes = tuple(dst_weeks(zone, year))
        self.year = _year(year)
        self.life = silenced_by_collapse(plan)
        self.faults = single_faults(plan)
        everything = (self.year[0] - 8 * DAY_MS, self.year[1] + 8 * DAY_MS)
        self.telling = Telling(plan, everything)
        self.nights = self._nights(everything)
        self.blind = cache(self._told_blind)

    def _nights(self, span: Span) -> tuple[Times, Times]:
        program, node = compile_formula(self.plan, self.plan.home.night.formula)
        axis = Axis.of_span(*span)
        return runs(axis, Columns(program, axis, Reports({})).steps(node), TRUE)

    def at_night(self, onsets: Times) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
        starts, ends = self.nights
        index = np.searchsorted(starts, onsets, "right") - 1
        return np.asarray((index >= 0) & (onsets < ends[np.maximum(index, 0)]))

    def hazard(self, hazard: Hazard, faults: Collection[str] | None, *, pairs: bool) -> HazardResult:
        """Prove one hazard, with some of the faults (None: all)."""
        wanted = [fault for fault in self.faults if faults is None or str(fault) in faults]
        alarms = [rule for rule in self.program.alarms if rule.hazard == hazard.name and not rule.of_part]
        ways = catalogue.onsets(self.plan, hazard)
        if hazard.kind == "blind" or not alarms or not ways:
            return self._unnoticed(hazard, alarms, wanted)
        stage = self.stage(alarms, ways)
        span = self.year if has_sun(self.program, stage.nodes) else self.week
        work = Raising(self.telling, stage, ways, self.life, self.faults)
        choices = work.choices()
        normal = {choice: work.told(choice, span) for choice in choices}
        deadline = self.deadline(hazard)
        night_only = all(way.at_night for way in ways)
        summed = {choice: self._sum(curve, deadline, night_only) for choice, curve in normal.items()}
        best = min(choices, key=lambda one: badness(summed[one]))
        clock = tuple(
            self._sum(work.told(best, week), deadline, night_only)
            for week in (() if span == self.year else self.changes)
        )
        single = []
        for fault in wanted:
            raised = work.raised_in(best, span, (fault,))
            curve = work.of_raised(raised, fault.outage)
            summed_then = self._sum(curve, deadline, night_only)
            single.append(FaultResult(fault, curve, summed_then, self.blind(fault), raised))
        worst = work.worst(best, summed[best], normal[best])
        others = {choice: one for choice, one in summed.items() if choice != best}
        return HazardResult(
            hazard,
            tuple(rule.name for rule in alarms),
            best,
            normal[best],
            summed[best],
            clock,
            tuple(single),
            others,
            worst,
            work.raised_in(best, span),
            tuple(work.pairs(best, span, single)) if pairs else (),
            work.unsettled(best, span),
        )

    def _unnoticed(self, hazard: Hazard, alarms: Sequence[RuleNode], broken: Sequence[Fault]) -> HazardResult:
        never = constant(NEVER, self.week)
        summed = self._sum(never, self.deadline(hazard), night_only=False)
        faults = tuple(FaultResult(fault, never, summed, self.blind(fault)) for fault in broken)
        names = tuple(rule.name for rule in alarms)
        return HazardResult(hazard, names, Choice(), never, summed, (), faults, {}, None)

    def stage(self, alarms: Sequence[RuleNode], ways: Sequence[Onset]) -> Stage:
        """Return the alarms of a hazard made ready to be decided."""
        targets = [node for rule in alarms for node in (rule.fires, rule.condition)]
        driven = frozenset(name for way in ways for name in (*way.pulses, *way.levels))
        life = self.life if all(way.life_ends for way in ways) else self.life - driven
        tails = tails_of(self.program, targets, life, driven)
        by_people = frozenset(name for name, state in self.plan.states.items() if state.set_by != "rules")
        span = (self.year[0] - 8 * DAY_MS, self.year[1] + 8 * DAY_MS)
        automatic = frozenset(name for name in self.plan.states if not corners.on_purpose(self.plan, name))
        last_signs = LastSigns(self.program, self.program.cone(targets, tails), tails, _with_room(span))
        return Stage(
            self.program, alarms, tails, span, by_people, automatic, last_signs if last_signs.sort_tails else None
        )

    def deadline(self, hazard: Hazard) -> Callable[[Times], Times]:
        """Return the deadline in milliseconds that counts at each onset."""

        def at(onsets: Times) -> Times:
            return np.where(self.at_night(onsets), hazard.deadline.night, hazard.deadline.day).astype(np.int64)

        return at

    def _sum(self, curve: Curve, deadline: Callable[[Times], Times], night_only: bool) -> Summary:
        cut = curve.cut(np.concatenate(self.nights))
        if night_only:
            starts, ends = self.nights
            pieces = [
                cut.between(max(int(a), int(cut.points[0])), min(int(b), cut.end))
                for a, b in zip(starts, ends, strict=True)
                if a < cut.end and b > cut.points[0]
            ]
            return joined_summary(pieces, deadline)
        return summary(cut, deadline)

    def _told_blind(self, fault: Fault) -> float | None:
        """Return the worst time from a fault until somebody is told that a part no longer reports."""
        if self.plan.upkeep is None or fault.ends_ms == 0 or not fault.lost:
            return None
        times = []
        for part in fault.lost:
            supervision = self.plan.parts[part].supervision
            if supervision is not None:
                held = (self.plan.parts[part].hold_up or 0) if fault.fresh_mains else 0
                times.append(supervision + held)
        if not times or (fault.ends_ms is not None and min(times) >= fault.ends_ms):
            return None
        raised = Curve(
            np.array([self.week[0]], np.int64),
            np.array([self.week[0] + min(times)], np.int64),
            np.array([False]),
            np.array([min(times)], np.int64),
            self.week[1],
        )
        told = self.telling.curve(self.plan.upkeep.call, raised, fault.outage)
        return summary(told, lambda onsets: np.zeros(len(onsets), np.int64)).worst_s


def _with_room(span: Span) -> Span:
    return span[0] - 60 * DAY_MS, span[1] + 60 * DAY_MS


def _year(year: int) -> Span:
    edges = (datetime(year, 1, 1, tzinfo=UTC), datetime(year + 1, 1, 1, tzinfo=UTC))
    return int(edges[0].timestamp() * 1000), int(edges[1].timestamp() * 1000)
