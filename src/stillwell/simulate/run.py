"""A plan, a seed and a number of days become a record."""

from datetime import date
from typing import Final

import numpy as np

from stillwell.plan.model import Plan
from stillwell.problem import refuse
from stillwell.record.columns import Column, Pulses, Record, Steps
from stillwell.simulate.agenda import Person
from stillwell.simulate.draws import stream
from stillwell.simulate.life import live
from stillwell.simulate.parts import Scene, said_by
from stillwell.simulate.radio import USUAL_FAULTS, Faults, Radio, battery_reports, draw_breakdowns, heartbeats
from stillwell.simulate.truth import Simulated, truth_of

_BLOCK_DAYS: Final = 364
_BLOCK_MS: Final = _BLOCK_DAYS * 86_400_000
_BLOCK_START: Final = date(2024, 1, 1)


def simulate(plan: Plan, days: int, seed: int, start: date, faults: Faults = USUAL_FAULTS) -> Record:
    """Invent what the parts of a home report over some local days from ``start`` on.

    The same plan, days, seed, start and faults give the same record. Reports stand at the time of their arrival;
    what rules command is the engine's and is not in it. Refused where the plan's zone, the days, the seed or the
    name of a part that is to die cannot be.
    """
    return simulate_with_truth(plan, days, seed, start, faults).record


def simulate_with_truth(
    plan: Plan, days: int, seed: int, start: date, faults: Faults = USUAL_FAULTS, person: Person | None = None
) -> Simulated:
    """Invent a record as ``simulate`` does, and tell what was behind it; of a certain person, if one is given."""
    life = live(plan, days, seed, start, person)
    span = life.agenda.span
    breakdowns = draw_breakdowns(plan, span, faults, seed)
    radio = Radio(plan, span, faults, breakdowns, seed)
    scene = Scene(plan, life, seed)
    signals: dict[str, Column] = {}
    for name, part in plan.parts.items():
        beats = heartbeats(part, span, stream(seed, "heartbeat", name))
        own = said_by(name, part, scene, beats)
        dies_ms = breakdowns.dead_since_ms.get(name)
        if part.power == "battery":
            own["battery"] = battery_reports(span, dies_ms, stream(seed, "battery", name))
        if part.heartbeat:
            own["alive"] = Pulses(beats)
        for signal, column in own.items():
            signals[f"{name}.{signal}"] = radio.arrives(name, signal, column)
    events = sum(column.times.size for column in signals.values())
    record = Record(plan.home.timezone, span, signals, events=events, late=radio.late)
    truth = truth_of(life, breakdowns, lost=radio.lost, doubled=radio.doubled, late=radio.late)
    return Simulated(record, truth)


def busy_record(plan: Plan, events: int = 1_000_000, seed: int = 1) -> Record:
    """Make a record of about so many events (within a day's worth) for measuring speed.

    One invented year of 52 weeks without a lasting fault is repeated end to end, as far as needed: the weekdays and,
    but for a day or so, the clock changes stay where they were.
    """
    year = simulate(plan, _BLOCK_DAYS, seed, _BLOCK_START, Faults(dies=False))
    if not year.events:
        raise refuse("no part of the plan reports anything", "a movement detector, say", name="parts")
    days = max(1, round(_BLOCK_DAYS * events / year.events))
    span = (year.span[0], year.span[0] + days * 86_400_000)
    signals = {name: _over(column, span, -(-days // _BLOCK_DAYS)) for name, column in year.signals.items()}
    return Record(year.zone, span, signals, events=sum(column.times.size for column in signals.values()))


def _over(column: Column, span: tuple[int, int], copies: int) -> Column:
    """Repeat a column end to end and cut it to the span."""
    times = (column.times + np.arange(copies, dtype=np.int64)[:, None] * _BLOCK_MS).ravel()
    kept = np.flatnonzero(times < span[1])
    if isinstance(column, Pulses):
        return Pulses(times[kept])
    return Steps(times[kept], column.values[kept % column.times.size])
