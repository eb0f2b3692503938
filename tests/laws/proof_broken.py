"""Invented lives in which one thing is broken, lived through by the live engine event by event.

What a fault does is written here a second time, as what really happens to reports: a lost part says nothing from some
instant on and its heartbeats end, a stuck one repeats itself, a late one says everything later.
"""

import numpy as np
from tests.laws.proof_histories import LONG_BEFORE_MS, hazard_reports, heard_always, history
from tests.oracle.stepped_notice import DAY_MS, bench_of, first_told, take_until, told

from stillwell.engine.step import Stepper
from stillwell.plan.kinds import SIGNALS_OF
from stillwell.proof.curve import NEVER
from stillwell.proof.faults import LATE_MS
from stillwell.record.columns import TRUE
from stillwell.rules.kinds import Kind

MINUTE_MS, HOUR_MS = 60_000, 3_600_000
HORIZON_MS = 16 * DAY_MS
REPEATS_MS = 30_000
"""How often a stuck detector says the same again."""

BROKEN_FOR_MS = (1, 1, MINUTE_MS, HOUR_MS, 2 * HOUR_MS, 9 * HOUR_MS, 2 * DAY_MS, 8 * DAY_MS)
NOT_NOTICED_FOR_MS = (1, MINUTE_MS, HOUR_MS // 2)


def faults_that_matter(bench):
    """Return the single faults that change anything for a hazard, and leave the home able to tell."""
    work = bench.work
    return [one for one in work.faults if one.ends_ms != 0 and (one.outage.people or work.touched(one))]


def broken_disagreements(bench, rng, fault, worlds, near):
    """Yield (world, onset, proved, stepped) where the curve with a fault is not what the live engine does.

    Looks at so many of the worlds that the fault makes, and in each at so many instants beside a critical onset. What
    reports over and over has no end of reports to step through, and is left to the invented lives.
    """
    slow = bench_of(bench.work.stage, bench.prover.telling.chain)
    start, end = bench.span
    found = [
        (one, bench.work.ends_ms(way, (fault,)))
        for way, by_choice in bench.work.by_way
        for some in by_choice.values()
        for each in some
        for one in bench.work.with_faults(each, way, (fault,))
        if not one.chatter and not _from_two_instants(bench, one)
    ]
    for number in rng.choice(len(found), min(worlds, len(found)), replace=False):
        world, ends_ms = found[number]
        curve = bench.work.of_raised((bench.work.raised_until(world, bench.span, ends_ms),), fault.outage)
        for onset in np.clip(rng.choice(curve.points, near) + rng.integers(-1, 2, near), start, end - 1).tolist():
            proved = int(curve.at(np.array([onset]))[0])
            if proved != NEVER and proved - onset >= HORIZON_MS:
                continue
            begins = onset + world.after_ms
            horizon_ms = HORIZON_MS if ends_ms is None else ends_ms + 1 - world.after_ms
            standing = bench.work.stage.at_onset(world, begins)
            stepped = told(slow, standing, begins, horizon_ms, fault.outage.people)
            if proved != stepped and (ends_ms is None or proved != NEVER):
                yield world, onset, proved, stepped


def _from_two_instants(bench, world):
    """Tell whether a world counts from the onset for one alarm and, what is late being in, from later for another."""
    return len({world.late.isdisjoint(alone.speaks_of[1]) for alone in bench.work.single}) > 1


def later_than_proved(bench, rng, fault, draws):
    """Yield (onset, proved, lived) for invented lives with a fault (None: with nothing broken) told too late.

    An alarm that stood before the onset is taken to have been answered at that very moment.
    """
    faults = () if fault is None else (fault,)
    choices = bench.work.choices()
    choice = choices[rng.integers(len(choices))]
    proved = bench.work.told(choice, bench.span, faults)
    program = heard_always(bench.prover.program, but=() if fault is None else fault.lost)
    for onset in _onsets(bench, rng, proved, draws):
        limit = int(proved.at(np.array([onset]))[0])
        if limit == NEVER:
            continue
        way = bench.ways[rng.integers(len(bench.ways))]
        reports = _reports(bench, rng, way, onset)
        if fault is not None:
            reports = happens(bench.plan, fault, rng, reports, onset, limit)
        lived = _lived(bench, program, dict(choice.states), reports, onset, limit, fault)
        if lived > limit:
            yield onset, limit, lived


def _onsets(bench, rng, proved, draws):
    """Return onsets, half of them at or beside a critical one."""
    start, end = bench.span
    anywhere = rng.integers(start, end, draws - draws // 2)
    beside = rng.choice(proved.points, draws // 2) + rng.integers(-1, 2, draws // 2)
    return np.clip(np.concatenate([anywhere, beside]), start, end - 1).tolist()


def _reports(bench, rng, way, onset):
    before = history(bench.plan, bench.work.stage, rng, onset, {*way.pulses, *way.levels})
    if way.life_ends and not any(at_ms == onset for at_ms, _, _ in before):
        seen = sorted(name for name in bench.prover.life if name.endswith(".movement"))
        before.append((onset, str(rng.choice(seen)), 1))
    return [*before, *hazard_reports(way, onset)]


def happens(plan, fault, rng, reports, onset, limit):
    """Return the reports that come in when a part is broken."""
    if fault.lost:
        return _lost(plan, fault, rng, reports, onset)
    if fault.late:
        long_before = onset - LONG_BEFORE_MS
        return [
            (at_ms + LATE_MS if _part(name) == fault.late and at_ms > long_before else at_ms, name, value)
            for at_ms, name, value in reports
        ]
    return _stuck(plan, fault.stuck, rng, reports, onset, limit) if fault.stuck else reports


def _lost(plan, fault, rng, reports, onset):
    gone = set(fault.lost)
    if fault.fresh_mains:
        since = {part: onset + (plan.parts[part].hold_up or 0) for part in gone}
    else:
        ages = NOT_NOTICED_FOR_MS if fault.kind.startswith("flat") else BROKEN_FOR_MS
        since = dict.fromkeys(gone, onset - int(rng.choice(ages)))
    kept = [one for one in reports if _part(one[1]) not in gone or one[0] < since[_part(one[1])]]
    for part in gone:
        supervision = plan.parts[part].supervision
        if supervision is not None:
            beats = [*range(onset - LONG_BEFORE_MS, since[part], supervision // 2), since[part] - 1]
            kept += [(at_ms, f"{part}.alive", 1) for at_ms in beats]
    return kept


def _stuck(plan, part, rng, reports, onset, limit):
    since = onset - int(rng.choice([1, MINUTE_MS, HOUR_MS, DAY_MS]))
    repeats, value = rng.integers(3) == 0, int(rng.integers(2))
    kept = [one for one in reports if _part(one[1]) != part or one[0] < since]
    for word, signal in SIGNALS_OF[plan.parts[part].kind].items():
        if signal.kind is Kind.LEVEL:
            kept.append((since, f"{part}.{word}", value))
        elif signal.kind is Kind.PULSE and word not in ("opened", "closed") and repeats:
            kept += [(at_ms, f"{part}.{word}", 1) for at_ms in range(since, limit + 1, REPEATS_MS)]
    return kept


def _part(name):
    return name.partition(".")[0]


def _lived(bench, program, states, reports, onset, limit, fault):
    start = onset - LONG_BEFORE_MS - 1
    events = sorted([(start, name, value) for name, value in states.items()] + reports, key=lambda one: one[0])
    stage = bench.work.stage
    stepper = Stepper(program, start)
    later = take_until(stepper, events, onset)
    cells = stepper.snapshot()["cells"]
    stood = {
        rule.name for rule in stage.alarms if not program.is_pulse(rule.condition) and cells[rule.fires][0] == TRUE
    }
    unreachable = frozenset() if fault is None else fault.outage.people
    chain = bench.prover.telling.chain
    return first_told(stage.alarms, chain, stepper, events[later:], onset, limit - onset + 1, stood, unreachable)
