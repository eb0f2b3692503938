"""How soon will somebody know? Every hazard of a plan, at every onset, with nothing broken and with any one fault."""

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import cache, partial
from itertools import combinations
from typing import TypeAlias

import numpy as np

from stillwell.civiltime import Span, dst_weeks, ordinary_week
from stillwell.engine.axis import Axis, runs
from stillwell.engine.columns import Columns, Reports
from stillwell.engine.lanes import falls_silent
from stillwell.engine.operators.lost import Lost
from stillwell.engine.operators.reported import PulseReport
from stillwell.engine.operators.settings import State
from stillwell.engine.operators.silence import Silence
from stillwell.engine.program import Program, RuleNode, compile_formula, compile_plan
from stillwell.plan.model import Hazard, Plan
from stillwell.proof import catalogue, corners
from stillwell.proof.catalogue import Onset
from stillwell.proof.corners import BY_HAND, Choice
from stillwell.proof.curve import NEVER, Curve, Summary, constant, earliest, latest, soonest, summary, work_out
from stillwell.proof.faults import Fault, Hearing, afflicted, afflicted_by_all, joint_outage, single_faults
from stillwell.proof.lines import critical_onsets, has_sun
from stillwell.proof.settled import unsettled
from stillwell.proof.tell import ALL_WELL, Outage, Telling
from stillwell.proof.world import DAY_MS, Stage, World
from stillwell.record.columns import TRUE, Times
from stillwell.replay.silence import silenced_by_collapse

Raised: TypeAlias = tuple[tuple[str, Curve], ...]
"""One world: for each alarm its call list, and when it is raised."""

SOON_MS = 2 * DAY_MS
ROUND_MS, YEAR_ROUND_MS = 8 * DAY_MS, 370 * DAY_MS
"""The clock goes round once a week, the sun once a year; and a little more, for a change of the clocks."""


@dataclass(frozen=True)
class FaultResult:
    """One fault: the worst notice time then (None: never), and when somebody is told of the fault itself."""

    fault: Fault
    curve: Curve
    summary: Summary
    told_blind_s: float | None
    raised: tuple[Raised, ...] = ()


@dataclass(frozen=True)
class PairResult:
    """Two faults of parts at once, and when the alarms are raised then."""

    faults: tuple[Fault, Fault]
    raised: tuple[Raised, ...]


@dataclass(frozen=True)
class Case:
    """The worst way a hazard may go: the world, the onset, and the alarm that then tells."""

    onset: Onset
    world: World
    onset_ms: int
    alarm: str | None


@dataclass(frozen=True)
class HazardResult:
    """The proof of one hazard over an ordinary week (a whole year where the sun decides), and the clock-change weeks.

    ``raised`` and ``told`` are curves over the ordinary span; ``otherwise`` holds, for other settings a person may
    have left the home in, the worst then. ``pairs`` are worked out on request only, and only those that may be worse
    than either fault alone. ``unsettled`` names rules whose timers of the past may make it worse than any history
    looked at; with none the proof is exact.
    """

    hazard: Hazard
    alarms: tuple[str, ...]
    choice: Choice
    told: Curve
    normal: Summary
    clock_changes: tuple[Summary, ...]
    faults: tuple[FaultResult, ...]
    otherwise: Mapping[Choice, Summary]
    worst: Case | None
    raised: tuple[Raised, ...] = ()
    pairs: tuple[PairResult, ...] = ()
    unsettled: tuple[str, ...] = ()


@dataclass(frozen=True)
class Proof:
    """The proof of a plan for one year."""

    plan: Plan
    program: Program
    year: int
    span: Span
    hazards: tuple[HazardResult, ...]


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
    prover = _Prover(plan, program, year)
    results = []
    for number, hazard in enumerate(wanted):
        if progress is not None:
            progress(number / len(wanted), hazard.name)
        results.append(prover.hazard(hazard, faults, pairs=pairs))
    return Proof(plan, program, year, prover.week, tuple(results))


class _Prover:
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
        wanted = [fault for fault in self.faults if faults is None or str(fault) in faults]
        alarms = [rule for rule in self.program.alarms if rule.hazard == hazard.name and not rule.of_part]
        ways = catalogue.onsets(self.plan, hazard)
        if hazard.kind == "blind" or not alarms or not ways:
            return self._unnoticed(hazard, alarms, wanted)
        stage = self._stage(alarms, ways)
        span = self.year if has_sun(self.program, stage.nodes) else self.week
        work = _Hazard(self, hazard, stage, ways)
        choices = work.choices()
        normal = {choice: work.told(choice, span) for choice in choices}
        deadline = self.deadline(hazard)
        night_only = all(way.at_night for way in ways)
        summed = {choice: self._sum(curve, deadline, night_only) for choice, curve in normal.items()}
        best = min(choices, key=lambda one: _rank(summed[one]))
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

    def _stage(self, alarms: Sequence[RuleNode], ways: Sequence[Onset]) -> Stage:
        targets = [node for rule in alarms for node in (rule.fires, rule.condition)]
        driven = frozenset(name for way in ways for name in (*way.pulses, *way.levels))
        life = self.life if all(way.life_ends for way in ways) else self.life - driven
        tails = _tails(self.plan, self.program, targets, life, driven)
        by_people = frozenset(name for name, state in self.plan.states.items() if state.set_by != "rules")
        span = (self.year[0] - 8 * DAY_MS, self.year[1] + 8 * DAY_MS)
        return Stage(self.program, alarms, tails, span, by_people)

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


class _Hazard:
    """One hazard's curves, each world's worked out once."""

    def __init__(self, prover: _Prover, hazard: Hazard, stage: Stage, ways: tuple[Onset, ...]) -> None:
        self.prover = prover
        self.hazard = hazard
        self.stage = stage
        self.ways = ways
        self.by_way = [(way, corners.worlds(prover.plan, stage, way, prover.life)) for way in ways]
        self.hearing = self._hearing()
        self.parts = frozenset(self._parts()) | self.hearing.life
        self.single = [self._alone(rule) for rule in stage.alarms]
        self._raised: dict[tuple[object, ...], Curve] = {}
        self._until: dict[tuple[object, ...], Raised] = {}
        self._told: dict[tuple[object, ...], Curve] = {}

    def _hearing(self) -> Hearing:
        program, stage = self.stage.program, self.stage
        signals = {getattr(program.nodes[node].operator, "signal", "") for node in program.cone([*stage.tails])} - {""}
        silences = [program.nodes[node].operator for node in stage.nodes]
        quiet = [one.duration_ms for one in silences if isinstance(one, Silence)]
        return Hearing(frozenset(name.partition(".")[0] for name in signals), quiet_ms=min(quiet, default=None))

    def _alone(self, rule: RuleNode) -> Stage:
        """Return the stage of one alarm: it is decided by what it listens to itself, and nothing else."""
        stage = self.stage
        return Stage(stage.program, [rule], stage.tails, stage.span, stage.set_by_people)

    def choices(self) -> list[Choice]:
        return list(self.by_way[0][1])

    def _parts(self) -> set[str]:
        """Return the parts that these alarms, or what the hazard does, speak of."""
        found = set()
        for way, _ in self.by_way:
            found |= {name.partition(".")[0] for name in (*way.pulses, *way.levels)}
        for node in self.stage.nodes:
            operator = self.stage.program.nodes[node].operator
            signal = getattr(operator, "signal", None)
            part = getattr(operator, "part", None)
            found |= {signal.partition(".")[0]} if signal else set()
            found |= {part} if part else set()
        return found

    def told(self, choice: Choice, span: Span, faults: tuple[Fault, ...] = ()) -> Curve:
        """Return when somebody is told, at worst, over all ways and histories, with all the faults at once."""
        return self.of_raised(self.raised_in(choice, span, faults), joint_outage(self.prover.plan, faults))

    def raised_in(self, choice: Choice, span: Span, faults: tuple[Fault, ...] = ()) -> tuple[Raised, ...]:
        """Return when the alarms are raised, for every world in which that differs."""
        found: dict[tuple[int, ...], Raised] = {}
        for way, by_choice in self.by_way:
            ends_ms = self._ends_ms(way, faults)
            for world in by_choice[choice]:
                for one in self._with(world, way, faults):
                    raised = self.raised_until(one, span, ends_ms)
                    found.setdefault(_identity(raised), raised)
        return tuple(found.values())

    def of_raised(self, worlds: tuple[Raised, ...], outage: Outage = ALL_WELL) -> Curve:
        """Return when somebody is told, at the worst of some worlds."""
        curves = []
        for raised in worlds:
            key = (*_identity(raised), outage)
            if key not in self._told:
                self._told[key] = earliest([self.prover.telling.curve(call, curve, outage) for call, curve in raised])
            curves.append(self._told[key])
        return latest(curves)

    def unsettled(self, choice: Choice, span: Span) -> tuple[str, ...]:
        """Return the rules whose timers of the past may still run when an alarm is first raised."""
        plan = self.prover.plan
        driven = {name for way in self.ways for name in (*way.pulses, *way.levels)}
        free = {name for name in self.prover.life - driven if plan.parts[name.partition(".")[0]].kind not in BY_HAND}
        raised = [
            curve
            for way, by_choice in self.by_way
            for world in by_choice[choice]
            if world.life or not self.stage.tails
            for one in self._with(world, way, ())
            for curve in self.raised(one, span)
        ]
        return unsettled(self.stage, free, min(map(soonest, raised), default=NEVER))

    def pairs(self, choice: Choice, span: Span, single: Sequence[FaultResult]) -> Iterator[PairResult]:
        """Yield every two faults of different parts of which neither alone is as bad as can be."""
        worse = [one.fault for one in single if self._touched(one.fault) and not (one.curve.value == NEVER).all()]
        for pair in combinations(worse, 2):
            if pair[0].subject != pair[1].subject:
                yield PairResult(pair, self.raised_in(choice, span, pair))

    def _touched(self, fault: Fault) -> bool:
        return bool({*fault.lost, fault.stuck, fault.late} & self.parts)

    def _with(self, world: World, way: Onset, faults: tuple[Fault, ...]) -> list[World]:
        plan = self.prover.plan
        hearing = replace(self.hearing, driven=frozenset({*way.pulses, *way.levels}))
        worlds = [world]
        if way.mains_off:
            mains = next(one for one in self.prover.faults if one.fresh_mains)
            worlds = [one for each in worlds for one in afflicted(plan, mains, each, hearing)]
        touched = [fault for fault in faults if self._touched(fault)]
        return [one for each in worlds for one in afflicted_by_all(plan, touched, each, hearing)]

    def _ends_ms(self, way: Onset, faults: tuple[Fault, ...]) -> int | None:
        mains = [one for one in self.prover.faults if one.fresh_mains] if way.mains_off else []
        return min((one.ends_ms for one in (*faults, *mains) if one.ends_ms is not None), default=None)

    def raised_until(self, world: World, span: Span, ends_ms: int | None) -> Raised:
        """Return when each alarm is raised in a world in which the home goes dark so long after the onset."""
        key = (world.key() if ends_ms != 0 else (), span, ends_ms)
        if key not in self._until:
            dark = [constant(NEVER, span)] * len(self.stage.alarms)
            curves = dark if ends_ms == 0 else self.raised(world, span)
            if ends_ms:
                curves = [_ending(curve, ends_ms) for curve in curves]
            self._until[key] = tuple(zip((rule.call for rule in self.stage.alarms), curves, strict=True))
        return self._until[key]

    def raised(self, world: World, span: Span) -> list[Curve]:
        """Return for each alarm when it is raised in a world."""
        return [self._raised_alone(stage, world.seen_by(stage), span) for stage in self.single]

    def _raised_alone(self, stage: Stage, world: World, span: Span) -> Curve:
        key = (stage.alarms[0].name, world.key(), span)
        if key not in self._raised:
            longest = _longest(stage, world)
            critical = critical_onsets(stage, world, stage.calendar(span[0], span[1] + longest), span)

            def decide(onsets: Times) -> Times:
                (raised,) = stage.raised(world, onsets, SOON_MS)
                waiting = raised == NEVER
                if waiting.any():
                    (raised[waiting],) = stage.raised(world, onsets[waiting], longest)
                return raised

            self._raised[key] = work_out(decide, critical, span)
        return self._raised[key]

    def worst(self, choice: Choice, summed: Summary, told: Curve) -> Case:
        """Return the world and the onset that reach, or come within a millisecond of, the worst."""
        onset = summed.worst_onset if summed.attained else summed.worst_onset + 1
        here = np.array([onset], np.int64)
        wanted = int(told.at(here)[0])
        span = (int(told.points[0]), told.end)
        for way, by_choice in self.by_way:
            for world in by_choice[choice]:
                for one in self._with(world, way, ()):
                    raised = self.raised_until(one, span, self._ends_ms(way, ()))
                    if int(self.of_raised((raised,)).at(here)[0]) == wanted:
                        return Case(way, one, onset, self._alarm(one, span, onset))
        raise AssertionError("the worst case is one of the worlds it was taken from")

    def _alarm(self, world: World, span: Span, onset: int) -> str | None:
        here = np.array([onset], np.int64)
        best, name = NEVER, None
        for rule, curve in zip(self.stage.alarms, self.raised(world, span), strict=True):
            raised = int(curve.at(here)[0])
            told = NEVER if raised == NEVER else int(self.prover.telling.told(rule.call, np.array([raised]))[0])
            if told < best:
                best, name = told, rule.name
        return name


def _longest(stage: Stage, world: World) -> int:
    """Return after how long nothing new can come: every timer has run out, and the clock has gone round.

    Each state that rules set may wait for the clock once more.
    """
    states = sum(
        isinstance(stage.program.nodes[node].operator, State) for node in stage.nodes if node not in stage.clockwork
    )
    once = YEAR_ROUND_MS if has_sun(stage.program, stage.nodes) else ROUND_MS
    return max(world.offsets()) + stage.memory_ms + once * (1 + states)


def _identity(raised: Raised) -> tuple[int, ...]:
    return tuple(id(curve) for _, curve in raised)


def joined_summary(pieces: Sequence[Curve], deadline: Callable[[Times], Times]) -> Summary:
    """Sum several stretches of one curve up as one."""
    parts = [summary(piece, deadline) for piece in pieces]
    lengths = [piece.end - int(piece.points[0]) for piece in pieces]
    total = sum(lengths)
    worst = max(parts, key=_rank)
    least = [part.least_s for part in parts if part.least_s is not None]
    means = [part.mean_s for part in parts]
    known = [mean for mean in means if mean is not None]
    whole = len(known) == len(means)
    return Summary(
        min(least) if least else None,
        worst.worst_s,
        worst.attained,
        sum(mean * length for mean, length in zip(known, lengths, strict=True)) / total if whole else None,
        sum(part.share_never * length for part, length in zip(parts, lengths, strict=True)) / total,
        sum(part.share_within * length for part, length in zip(parts, lengths, strict=True)) / total,
        worst.worst_onset,
    )


def _rank(summed: Summary) -> tuple[float, float]:
    return (np.inf if summed.worst_s is None else summed.worst_s, -summed.share_within)


def _ending(curve: Curve, ends_ms: int) -> Curve:
    """Return a curve of which only what comes within ``ends_ms`` of the onset counts."""
    cut = curve.cut(curve.value[curve.fixed & (curve.value != NEVER)] - ends_ms)

    def decide(onsets: Times) -> Times:
        instants = cut.at(onsets)
        return np.where((instants != NEVER) & (instants - onsets <= ends_ms), instants, NEVER)

    return work_out(decide, cut.points, (int(cut.points[0]), cut.end))


def _tails(
    plan: Plan, program: Program, targets: Sequence[int], life: frozenset[str], driven: frozenset[str]
) -> frozenset[int]:
    """Return pulse nodes that stand for signs of life as a whole.

    Only signs of life feed them, and either only silences read them, so that their last pulse says everything, or
    nothing in them is read elsewhere or moved by the hazard itself (``driven``), so that they come and go as one.
    Buttons may be read elsewhere: nobody presses one for this hazard.
    """
    found = set[int]()
    for node in reversed(program.cone(targets)):
        cone = program.cone(targets, found)
        operator = program.nodes[node].operator
        if node not in cone or node in targets or not falls_silent(program, node, life):
            continue
        readers = [program.nodes[other].operator for other in cone if node in program.nodes[other].children]
        apart = set(program.cone(targets, {*found, node}))
        inside = [program.nodes[below].operator for below in program.cone([node]) if below in apart]
        signals = {getattr(program.nodes[below].operator, "signal", "") for below in program.cone([node])}
        whole = (
            not isinstance(operator, PulseReport) and not signals & driven and all(map(partial(_by_hand, plan), inside))
        )
        if all(isinstance(reader, Silence) for reader in readers) or whole:
            found.add(node)
    return frozenset(found)


def _by_hand(plan: Plan, operator: object) -> bool:
    return isinstance(operator, Lost) or (
        isinstance(operator, PulseReport) and plan.parts[operator.signal.partition(".")[0]].kind in corners.BY_HAND
    )


def _year(year: int) -> Span:
    edges = (datetime(year, 1, 1, tzinfo=UTC), datetime(year + 1, 1, 1, tzinfo=UTC))
    return int(edges[0].timestamp() * 1000), int(edges[1].timestamp() * 1000)
