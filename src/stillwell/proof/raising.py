"""When the alarms of one hazard are raised and somebody is told, in every world that must be looked at."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np

from stillwell.civiltime import Span
from stillwell.engine.operators.limits import Limits
from stillwell.engine.operators.settings import State
from stillwell.engine.operators.silence import Silence
from stillwell.engine.program import RuleNode
from stillwell.proof import corners
from stillwell.proof.catalogue import Onset
from stillwell.proof.corners import BY_HAND, Choice
from stillwell.proof.curve import NEVER, Curve, Summary, constant, earliest, latest, soonest, work_out
from stillwell.proof.faults import Fault, Hearing, afflicted, afflicted_by_all, joint_outage, on_time
from stillwell.proof.last_signs import Last
from stillwell.proof.lines import critical_onsets, has_sun
from stillwell.proof.results import Case, FaultResult, PairResult, Raised
from stillwell.proof.settled import unsettled
from stillwell.proof.tell import ALL_WELL, Outage, Telling
from stillwell.proof.turns import wavering
from stillwell.proof.world import DAY_MS, Stage, World
from stillwell.record.columns import Times

SOON_MS = 2 * DAY_MS
ROUND_MS, YEAR_ROUND_MS = 8 * DAY_MS, 370 * DAY_MS
"""The clock goes round once a week, the sun once a year; and a little more, for a change of the clocks."""


class Raising:
    """When the alarms of one hazard are raised and told, in every world; each world is worked out once.

    ``life`` are the signals that end when the resident lies still, ``faults`` every single fault of the plan.
    """

    def __init__(
        self,
        telling: Telling,
        stage: Stage,
        ways: tuple[Onset, ...],
        life: frozenset[str],
        faults: tuple[Fault, ...],
    ) -> None:
        self.telling = telling
        self.plan = telling.plan
        self.life = life
        self.faults = faults
        self.stage = stage
        self.ways = ways
        self.by_way = [(way, corners.worlds(self.plan, stage, way, life)) for way in ways]
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
        quiet += [one.shortest_ms for one in silences if isinstance(one, Limits)]
        life = frozenset(name.partition(".")[0] for name in signals)
        heard = corners.heard_by(self.plan, stage, self.life)
        return Hearing(
            life,
            quiet_ms=min(quiet, default=None),
            heard=heard,
            signs=frozenset(signals),
            wavering=wavering(stage, heard),
        )

    def _alone(self, rule: RuleNode) -> Stage:
        """Return the stage of one alarm: it is decided by what it listens to itself, and nothing else."""
        stage = self.stage
        return Stage(
            stage.program, [rule], stage.tails, stage.span, stage.set_by_people, stage.automatic, stage.last_signs
        )

    def choices(self) -> list[Choice]:
        """Return every way in which people may have left the home."""
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
        return self.of_raised(self.raised_in(choice, span, faults), joint_outage(self.plan, faults))

    def raised_in(self, choice: Choice, span: Span, faults: tuple[Fault, ...] = ()) -> tuple[Raised, ...]:
        """Return when the alarms are raised, for every world in which that differs."""
        found: dict[tuple[int, ...], Raised] = {}
        for way, by_choice in self.by_way:
            ends_ms = self.ends_ms(way, faults)
            for world in by_choice[choice]:
                for one in self._each_last(self.with_faults(world, way, faults), span):
                    raised = self.raised_until(one, span, ends_ms)
                    found.setdefault(_identity(raised), raised)
        return tuple(found.values())

    def of_raised(self, worlds: tuple[Raised, ...], outage: Outage = ALL_WELL) -> Curve:
        """Return when somebody is told, at the worst of some worlds."""
        curves = []
        for raised in worlds:
            key = (*_identity(raised), outage)
            if key not in self._told:
                self._told[key] = earliest([self.telling.curve(call, curve, outage) for call, curve in raised])
            curves.append(self._told[key])
        return latest(curves)

    def unsettled(self, choice: Choice, span: Span) -> tuple[str, ...]:
        """Return the rules whose timers of the past may still run when an alarm is first raised."""
        plan = self.plan
        driven = {name for way in self.ways for name in (*way.pulses, *way.levels)}
        free = {name for name in self.life - driven if plan.parts[name.partition(".")[0]].kind not in BY_HAND}
        raised = [
            curve
            for way, by_choice in self.by_way
            for world in by_choice[choice]
            if world.life or not self.stage.tails
            for one in self._each_last(self.with_faults(world, way, ()), span)
            for curve in self.raised(one, span)
        ]
        return unsettled(self.stage, free, min(map(soonest, raised), default=NEVER))

    def pairs(self, choice: Choice, span: Span, single: Sequence[FaultResult]) -> Iterator[PairResult]:
        """Yield every two faults of different parts of which neither alone is as bad as can be."""
        worse = [one.fault for one in single if self.touched(one.fault) and not (one.curve.value == NEVER).all()]
        for pair in combinations(worse, 2):
            if pair[0].subject != pair[1].subject:
                yield PairResult(pair, self.raised_in(choice, span, pair))

    def touched(self, fault: Fault) -> bool:
        """Tell whether a fault breaks a part that these alarms, or the hazard, have to do with."""
        return bool({*fault.lost, fault.stuck, fault.late} & self.parts)

    def with_faults(self, world: World, way: Onset, faults: tuple[Fault, ...]) -> list[World]:
        """Return the worlds that some faults, and what the hazard itself breaks, make of a world."""
        plan = self.plan
        hearing = replace(self.hearing, driven=frozenset({*way.pulses, *way.levels}))
        worlds = [world]
        if way.mains_off:
            mains = next(one for one in self.faults if one.fresh_mains)
            worlds = [one for each in worlds for one in afflicted(plan, mains, each, hearing)]
        touched = [fault for fault in faults if self.touched(fault)]
        return [one for each in worlds for one in afflicted_by_all(plan, touched, each, hearing)]

    def _each_last(self, worlds: Sequence[World], span: Span) -> Iterator[World]:
        """Yield the worlds with each candidate for the last sign; none where no part is left that can give one."""
        for world in worlds:
            if not isinstance(world.last, Last):
                yield world
                continue
            chosen = self.stage.choices(world.last, np.array(span, np.int64) + world.after_ms)
            for slot in range(0 if chosen is None else chosen.slots):
                yield replace(world, last=replace(world.last, slot=slot))

    def ends_ms(self, way: Onset, faults: tuple[Fault, ...]) -> int | None:
        """Return after how long the home can tell nothing any more; None: it goes on."""
        mains = [one for one in self.faults if one.fresh_mains] if way.mains_off else []
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
        return [self._raised_from(stage, world, span) for stage in self.single]

    def _raised_from(self, stage: Stage, world: World, span: Span) -> Curve:
        """Return when an alarm is raised in a world that may count from some time after the onset."""
        by = world.after_ms
        if by and world.late.isdisjoint(stage.speaks_of[1]):
            return self._raised_from(stage, on_time(world), span)
        seen = replace(world, late=frozenset(), after_ms=0).seen_by(stage)
        curve = self._raised_alone(stage, seen, (span[0] + by, span[1] + by))
        return curve.sooner(by) if by else curve

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
                for one in self._each_last(self.with_faults(world, way, ()), span):
                    raised = self.raised_until(one, span, self.ends_ms(way, ()))
                    if int(self.of_raised((raised,)).at(here)[0]) == wanted:
                        return Case(way, self.stage.at_onset(one, onset), onset, self._alarm(one, span, onset))
        raise AssertionError("the worst case is one of the worlds it was taken from")

    def _alarm(self, world: World, span: Span, onset: int) -> str | None:
        here = np.array([onset], np.int64)
        best, name = NEVER, None
        for rule, curve in zip(self.stage.alarms, self.raised(world, span), strict=True):
            raised = int(curve.at(here)[0])
            told = NEVER if raised == NEVER else int(self.telling.told(rule.call, np.array([raised]))[0])
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


def _ending(curve: Curve, ends_ms: int) -> Curve:
    """Return a curve of which only what comes within ``ends_ms`` of the onset counts."""
    cut = curve.cut(curve.value[curve.fixed & (curve.value != NEVER)] - ends_ms)

    def decide(onsets: Times) -> Times:
        instants = cut.at(onsets)
        return np.where((instants != NEVER) & (instants - onsets <= ends_ms), instants, NEVER)

    return work_out(decide, cut.points, (int(cut.points[0]), cut.end))
