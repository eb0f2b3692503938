"""Random days in a home: an invented life, a hazard at a random instant, one thing broken; and what the proof promises.

What a hazard does is the proof's own model of it (docs/hazards.md), what a fault does is written here a second time, as
what becomes of reports. After the onset nothing else happens, as docs/proof.md, section 2, takes for granted.
"""

from dataclasses import dataclass, field
from datetime import date, timedelta

import numpy as np
from tests.laws.proof_histories import LIVELY

from stillwell.civiltime import local_datetime, week_of
from stillwell.engine.program import compile_plan
from stillwell.plan.check_wiring import reported_by
from stillwell.plan.kinds import SIGNALS_OF, SWITCHED
from stillwell.plan.model import Read
from stillwell.proof import catalogue
from stillwell.proof.curve import NEVER
from stillwell.proof.faults import LATE_MS
from stillwell.proof.lines import has_sun
from stillwell.proof.prove import Prover
from stillwell.proof.raising import Raising
from stillwell.record.columns import TRUE, UNKNOWN, Steps
from stillwell.rules.kinds import Kind
from stillwell.simulate.radio import NO_FAULTS
from stillwell.simulate.run import simulate
from stillwell.simulate.script import values_of

SECOND_MS, MINUTE_MS, HOUR_MS, DAY_MS = 1_000, 60_000, 3_600_000, 86_400_000
YEAR = 2026
REPEATS_MS = 30_000
"""How often a stuck detector says the same again."""

BROKEN_BEFORE_MS = (-1, 1, 1, MINUTE_MS, HOUR_MS, 2 * HOUR_MS, 9 * HOUR_MS, DAY_MS)
"""So long before the onset it broke; -1: a millisecond after it."""
UNNOTICED_MS = (1, MINUTE_MS, HOUR_MS // 2)
BEATS_A_SUPERVISION = 0.9
"""A supervised part is heard a little more often than it must be."""


@dataclass(frozen=True)
class Provable:
    """One hazard of a plan as the prover holds it."""

    hazard: object
    alarms: frozenset
    ways: tuple
    work: Raising
    by_the_sun: bool


class Promises:
    """What the proof says of a plan, for any onset of a year, with any single fault."""

    def __init__(self, plan):
        self.plan = plan
        self.prover = Prover(plan, compile_plan(plan), YEAR)
        self.zone = self.prover.program.home.zone
        self.chain = self.prover.telling.chain
        self.hazards = [one for hazard in plan.hazard if (one := self._provable(hazard)) is not None]
        self.faults = [fault for fault in self.prover.faults if fault.ends_ms != 0]
        self.of_part = {rule.name: rule.of_part for rule in self.prover.program.alarms if rule.of_part}
        self._curves = {}

    def _provable(self, hazard):
        alarms = [rule for rule in self.prover.program.alarms if rule.hazard == hazard.name and not rule.of_part]
        ways = catalogue.onsets(self.plan, hazard)
        if hazard.kind == "blind" or not alarms or not ways:
            return None
        stage = self.prover.stage(alarms, ways)
        work = Raising(self.prover.telling, stage, ways, self.prover.life, self.prover.faults)
        by_the_sun = has_sun(self.prover.program, stage.nodes)
        return Provable(hazard, frozenset(rule.name for rule in alarms), ways, work, by_the_sun)

    def week(self, at_ms):
        """The local week of an instant."""
        day = local_datetime(self.zone, at_ms).date()
        return week_of(self.zone, day - timedelta(day.weekday()))

    def curve(self, provable, choice, fault, at_ms):
        """When somebody is told at worst, as a function of onsets in the week (or year) of an instant."""
        span = self.prover.year if provable.by_the_sun else self.week(at_ms)
        key = provable.hazard.name, choice, str(fault), span
        if key not in self._curves:
            self._curves[key] = provable.work.told(choice, span, () if fault is None else (fault,))
        return self._curves[key]

    def told_blind_ms(self, fault, at_ms):
        """By how long after a fault somebody is told of it at worst; None where nothing is promised for this week."""
        if fault is None or self.week(at_ms) in self.prover.changes:
            return None
        seconds = self.prover.blind(fault)
        return None if seconds is None else round(seconds * 1000)


@dataclass
class Day:
    """One random day, from ``start_ms`` on. ``said`` are reports up to and at the onset, and those of the hazard.

    ``promised_ms`` is when somebody must have been told, ``blind_by_ms`` when somebody must have been told of the
    fault itself. ``since_ms``: from when on which part is silent or stuck. ``driven``: hazard reports, by instant.
    """

    start_ms: int
    onset_ms: int
    provable: Provable
    way: object
    choice: object
    fault: object
    since_ms: dict
    promised_ms: int
    blind_by_ms: int | None
    said: list
    driven: frozenset
    stuck_says: list = field(default_factory=list)

    @property
    def until_ms(self):
        return self.start_ms + DAY_MS

    def heard(self, reports):
        """What becomes of reports (instant, signal, value) with the fault."""
        fault, found = self.fault, []
        for at_ms, name, value in reports:
            part = name.partition(".")[0]
            if at_ms >= self.since_ms.get(part, NEVER):
                continue
            late = fault is not None and fault.late == part
            found.append((at_ms + LATE_MS if late else at_ms, name, value))
        return sorted(found, key=lambda one: one[0])

    def speaks(self, part, at_ms):
        """Whether a part says that it is there."""
        lost = self.lost
        return part not in lost or at_ms < self.since_ms[part]

    @property
    def lost(self):
        return {part for part in self.since_ms if self.fault is None or part != self.fault.stuck}


class Days:
    """The days of one home, one after the other, drawn from a seed."""

    def __init__(self, promises, seed, days):
        self.promises = promises
        self.plan = promises.plan
        self.rng = np.random.default_rng(seed)
        first = date(YEAR, 1, 5) + timedelta(days=int(self.rng.integers(0, 330 - 2 * days)))
        record = simulate(self.plan, 2 * days + 4, int(self.rng.integers(2**31)), first, NO_FAULTS)
        self.start_ms = record.span[0]
        self.levels = [name for name, one in record.signals.items() if isinstance(one, Steps) and self._stands(name)]
        self.reports = sorted(
            (
                (at_ms, name, value)
                for name, column in record.signals.items()
                if self._of_life(name)
                for at_ms, value in zip(column.times.tolist(), values_of(column), strict=True)
            ),
            key=lambda one: one[0],
        )
        self._times = np.array([one[0] for one in self.reports])
        self.unpromised = 0

    def _of_life(self, name):
        part, _, word = name.partition(".")
        by_hand = self.plan.parts[part].kind in ("push button", "wearable call button")
        return word != "alive" and not (by_hand and word == "pressed")

    def _stands(self, name):
        part, _, word = name.partition(".")
        return word != "on" or self.plan.parts[part].kind not in SWITCHED

    def between(self, start_ms, end_ms):
        """What the parts report of the invented life in a span (half-open)."""
        first, last = np.searchsorted(self._times, (start_ms, end_ms))
        return self.reports[first:last]

    def standing(self, at_ms):
        """How every level and number stands at an instant, as reports of that instant."""
        before = self.reports[: np.searchsorted(self._times, at_ms, "right")]
        last = {name: value for _, name, value in before}
        rest = {f"{name}.mains": 1.0 for name, part in self.plan.parts.items() if part.kind == "controller"}
        return [(at_ms, name, last.get(name, rest.get(name, 0.0))) for name in self.levels]

    def day(self, start_ms):
        """Draw a day for which the proof promises something."""
        while True:
            drawn = self._draw(start_ms)
            if drawn is not None:
                return drawn
            self.unpromised += 1

    def _draw(self, start_ms):
        rng, promises = self.rng, self.promises
        provable = promises.hazards[rng.integers(len(promises.hazards))]
        choices = provable.work.choices()
        choice = choices[rng.integers(len(choices))]
        if any(value != self._at_first(name) for name, value in choice.states):
            return None  # a promise for those who have set something on purpose
        fault = self._fault(provable)
        onset_ms = int(rng.integers(start_ms + HOUR_MS, start_ms + DAY_MS))
        curve = promises.curve(provable, choice, fault, onset_ms)
        if rng.integers(2):
            near = curve.points[(curve.points > start_ms + HOUR_MS) & (curve.points < start_ms + DAY_MS)]
            onset_ms = int(rng.choice(near)) + int(rng.integers(-1, 2)) if len(near) else onset_ms
        way = provable.ways[rng.integers(len(provable.ways))]
        if way.at_night and not promises.prover.at_night(np.array([onset_ms]))[0]:
            return None
        promised_ms = int(curve.at(np.array([onset_ms]))[0])
        if promised_ms == NEVER or promised_ms > onset_ms + 2 * DAY_MS:
            return None
        since_ms = self._since(fault, way, start_ms, onset_ms)
        driven = frozenset({*way.pulses, *way.levels})
        day = Day(start_ms, onset_ms, provable, way, choice, fault, since_ms, promised_ms, None, [], driven)
        if (after_ms := promises.told_blind_ms(fault, onset_ms)) is not None:
            broken_ms = onset_ms if fault.fresh_mains else min(since_ms[part] for part in fault.lost)
            day.blind_by_ms = broken_ms + after_ms if broken_ms + after_ms < day.until_ms else None
        reports = self._before(day) + _of_hazard(way, onset_ms)
        day.said = self._with_stuck(day, day.heard(reports))
        return day

    def _at_first(self, name):
        state = self.plan.states[name]
        return state.values.index(state.initial)

    def _fault(self, provable):
        rng = self.rng
        touched = [one for one in self.promises.faults if provable.work.touched(one) or one.outage.people]
        match rng.integers(8):
            case 0 | 1:
                return None
            case 2 | 3:
                return self.promises.faults[rng.integers(len(self.promises.faults))]
            case _:
                return touched[rng.integers(len(touched))] if touched else None

    def _since(self, fault, way, start_ms, onset_ms):
        rng, found = self.rng, {}
        if fault is not None and fault.stuck:
            found[fault.stuck] = max(start_ms, onset_ms - int(rng.choice([0, 1, MINUTE_MS, HOUR_MS, DAY_MS])))
        elif fault is not None and fault.lost and not fault.fresh_mains:
            ages = UNNOTICED_MS if fault.kind.startswith("flat") else BROKEN_BEFORE_MS
            found |= dict.fromkeys(fault.lost, max(start_ms + SECOND_MS, onset_ms - int(rng.choice(ages))))
        mains = [one for one in self.promises.prover.faults if one.fresh_mains] if way.mains_off else []
        for one in [*mains, *([fault] if fault is not None and fault.fresh_mains else [])]:
            for part in one.lost:
                ends_ms = onset_ms + (self.plan.parts[part].hold_up or 0)
                found[part] = min(found.get(part, NEVER), ends_ms)
        return found

    def _before(self, day):
        """The resident's life up to the onset, and some reports at instants that the rules care about."""
        rng, onset_ms, stage = self.rng, day.onset_ms, day.provable.work.stage
        resting_ms = onset_ms - 2 * stage.memory_ms
        found = list(self.between(day.start_ms + SECOND_MS, onset_ms))
        durations = sorted(
            {getattr(stage.program.nodes[node].operator, "duration_ms", 0) for node in stage.nodes} - {0}
        )
        lively = [name for name, part in self.plan.parts.items() if part.kind in LIVELY]
        for _ in range(int(rng.choice([0, 0, 2, 5]))):
            at_ms = onset_ms - sum(int(rng.choice(durations)) for _ in range(rng.integers(0, 3)) if durations)
            at_ms += int(rng.choice([-MINUTE_MS, -1, 0, 0, 1, MINUTE_MS]))
            name = str(rng.choice(lively))
            if day.start_ms + MINUTE_MS < at_ms <= onset_ms:
                found += self._stirs(name, at_ms, onset_ms)
        if day.way.life_ends:
            seen = sorted(name for name in self.promises.prover.life if name.endswith(".movement"))
            found.append((onset_ms, str(rng.choice(seen)), 1.0))
        rests_ms = max(resting_ms, day.start_ms + 2 * MINUTE_MS)
        found += [(rests_ms, name, reported(name, level.before)) for name, level in day.way.levels.items()]
        return [one for one in found if one[1] not in day.driven or one[0] <= rests_ms]

    def _stirs(self, part, at_ms, onset_ms):
        for word, kind in SIGNALS_OF[self.plan.parts[part].kind].items():
            if kind.kind is Kind.LEVEL:
                shut_ms = min(at_ms + 5 * SECOND_MS, onset_ms)
                return [
                    (at_ms, f"{part}.{word}", 1.0),
                    *([(shut_ms, f"{part}.{word}", 0.0)] if shut_ms > at_ms else []),
                ]
            return [(at_ms, f"{part}.{word}", 1.0)]
        return []

    def _with_stuck(self, day, said):
        if day.fault is None or not day.fault.stuck:
            return said
        part, since_ms = day.fault.stuck, day.since_ms[day.fault.stuck]
        value, repeats = float(self.rng.integers(2)), self.rng.integers(3) == 0
        for word, kind in reported_by(self.plan.parts[part]).items():
            if word in ("alive", "link_lost", "battery"):
                continue
            if kind.kind is Kind.LEVEL:
                said.append((since_ms, f"{part}.{word}", value))
            elif kind.kind is Kind.PULSE and repeats:
                day.stuck_says.append(f"{part}.{word}")
        return sorted(said, key=lambda one: one[0])


def _of_hazard(way, onset_ms):
    """What the hazard makes parts report from the onset on."""
    found = [(onset_ms + offset, name, 1.0) for name, times in way.pulses.items() for offset in times]
    for name, level in way.levels.items():
        found += [(onset_ms + offset, name, reported(name, value)) for offset, value in level.changes]
    return found


def reported(name, value):
    """A value of the proof's worlds as a report carries it: there a float is a number, an int one of three levels."""
    if isinstance(value, float):
        return value
    return None if value == UNKNOWN else value / TRUE


def wired(plan, home):
    """The same plan with every part speaking JSON on a topic of its own below ``home``, and its hub for its beats."""

    def own(name, part):
        reads = [
            Read(topic=f"{home}/radio/{name}", signal=word, pointer=f"/{word}")
            for word in reported_by(part)
            if word not in ("alive", "link_lost")
        ]
        if part.supervision is not None:
            reads.append(Read(topic=f"{home}/beat/{part.supervision}", signal="alive", pointer=f"/{name}"))
        return part.model_copy(update={"reads": tuple(reads)})

    return plan.model_copy(update={"parts": {name: own(name, part) for name, part in plan.parts.items()}})
