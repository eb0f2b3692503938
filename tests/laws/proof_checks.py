"""The questions put to the proof: is each curve what the live engine does, is nothing ever later, and is its worst case
a record on which the engine is just as late?
"""

from dataclasses import dataclass

import numpy as np
from tests.laws.proof_histories import LONG_BEFORE_MS, hazard_reports, heard_always, history
from tests.oracle.asked import first_told
from tests.oracle.stepped_notice import DAY_MS, bench_of, told

from stillwell.engine import columns, walk
from stillwell.engine.program import compile_plan
from stillwell.engine.step import Fired, Returned, Stepper
from stillwell.proof import catalogue
from stillwell.proof.curve import NEVER
from stillwell.proof.prove import Prover
from stillwell.proof.proved import Shown
from stillwell.proof.raising import Raising
from stillwell.replay.chain import Chain

HORIZON_MS = 16 * DAY_MS
YEAR = 2026


@dataclass(frozen=True)
class Workbench:
    """One hazard of a plan, as the prover holds it."""

    plan: object
    prover: object
    work: object
    alarms: list
    ways: tuple
    span: tuple


def workbench(plan, hazard):
    """Return the prover's own workings for one hazard. Raises Refusal where it cannot be proved."""
    prover = Prover(plan, compile_plan(plan), YEAR)
    alarms = [rule for rule in prover.program.alarms if rule.hazard == hazard.name and not rule.of_part]
    ways = catalogue.onsets(plan, hazard)
    work = Raising(prover.telling, prover.stage(alarms, ways), ways, prover.life, prover.faults)
    return Workbench(plan, prover, work, alarms, ways, prover.week)


def disagreements(bench, rng, minutes, near):
    """Yield (world, onset, proved, stepped) where the curve is not what the live engine does.

    Looks at so many random minutes of the week, and at so many instants at or beside a critical onset.
    """
    slow = bench_of(bench.work.stage, bench.prover.telling.chain)
    start, end = bench.span
    for way, by_choice in bench.work.by_way:
        ends_ms = bench.work.ends_ms(way, ())
        worlds = [one for some in by_choice.values() for each in some for one in bench.work.with_faults(each, way, ())]
        for world in worlds:
            curve = bench.work.of_raised((bench.work.raised_until(world, bench.span, ends_ms),))
            count = min(near, len(curve.points))
            beside = rng.choice(curve.points, count) + rng.integers(-1, 2, count)
            onsets = np.concatenate([rng.choice(np.arange(start, end, 60_000), minutes), beside])
            for onset in onsets[(onsets >= start) & (onsets < end)].tolist():
                proved = int(curve.at(np.array([onset]))[0])
                stepped = told(
                    slow, bench.work.stage.at_onset(world, onset), onset, ends_ms if ends_ms is not None else HORIZON_MS
                )
                far = proved != NEVER and ends_ms is None and proved - onset >= HORIZON_MS
                if proved != stepped and not (far and stepped == NEVER):
                    yield world, onset, proved, stepped


def lateness(bench, rng, draws, *, heard_at_onset=True):
    """Yield (onset, proved, lived) for invented histories in which the live engine tells later than proved.

    Unless it is to be ``heard_at_onset``, the last sign of life may have come any time before.
    """
    program = heard_always(bench.prover.program)
    chain = bench.prover.telling.chain
    calls = {rule.name: rule.call for rule in bench.alarms}
    choice = bench.work.choices()[0]
    proved = bench.work.told(choice, bench.span)
    for _ in range(draws):
        way = bench.ways[rng.integers(len(bench.ways))]
        onset = int(rng.integers(*bench.span))
        if rng.integers(2):
            onset = int(np.clip(rng.choice(proved.points) + rng.integers(-1, 2), bench.span[0], bench.span[1] - 1))
        driven = {*way.pulses, *way.levels}
        before = history(bench.plan, bench.work.stage, rng, onset, driven)
        if heard_at_onset and way.life_ends and not any(at_ms == onset for at_ms, _, _ in before):
            before.append((onset, min(bench.prover.life), 1))
        events = sorted([*before, *hazard_reports(way, onset)], key=lambda one: one[0])
        lived = _lived(program, chain, calls, events, onset, int(proved.at(np.array([onset]))[0]))
        if lived is not None:
            yield onset, int(proved.at(np.array([onset]))[0]), lived


def _lived(program, chain, calls, events, onset, proved):
    """Return when somebody is told where that is later than proved, else None."""
    if proved == NEVER:
        return None
    stepper = Stepper(program, onset - LONG_BEFORE_MS - 1)
    standing, best, index = set(), NEVER, 0
    while True:
        coming = events[index][0] if index < len(events) else proved + 1
        now = min(coming, stepper.deadline() or coming)
        if now > proved:
            return None if best <= proved or standing else best
        if now > onset and standing and best == NEVER:
            return None  # it stood at the onset: people have been told of it already
        together = []
        while index < len(events) and events[index][0] == now:
            together.append(events[index][1:])
            index += 1
        for one in stepper.take(now, together) if together else stepper.advance(now):
            if isinstance(one, Fired) and one.rule.name in calls:
                standing.add(one.rule.name)
                if one.at_ms >= onset:
                    at_ms = chain.told_at(calls[one.rule.name], one.at_ms)
                    best = min(best, NEVER if at_ms is None else at_ms)
            elif isinstance(one, Returned):
                standing.discard(one.rule.name)
        if now >= onset and standing and best == NEVER:
            return None  # people have been told of it already and are asked again
        if best <= proved:
            return None


def misjudged_witnesses(plan, proof):
    """Yield (hazard, told, proved) where an evaluator is not as late on the record of the worst case as proved."""
    for result in proof.hazards:
        if result.worst is None:
            continue
        case = Shown(plan, proof, result)
        if case.witness is None:
            yield result.hazard.name, None, case.told_ms
            continue
        for evaluate in (columns.run, walk.run):
            outcome = evaluate(proof.program, case.witness.record)
            lived = first_told(plan, Chain(plan), outcome, result.alarms, case.onset_ms)
            if lived != case.told_ms:
                yield result.hazard.name, lived, case.told_ms
