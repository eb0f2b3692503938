"""Invented days in Paris: up at about seven, in bed at about half past ten, two walks at night, four rooms."""

from dataclasses import replace
from datetime import date, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from stillwell.civiltime import local_instant
from stillwell.limits.learn import Learned
from stillwell.limits.tail import Tail
from stillwell.record.columns import Pulses, Record
from stillwell.record.gaps import with_no_report_gaps

PARIS = ZoneInfo("Europe/Paris")
START = date(2026, 1, 5)
MINUTE, HOUR, DAY = 60_000, 3_600_000, 86_400_000
ROOMS = ("bedroom", "bathroom", "kitchen", "lounge")
SHARES = (0.15, 0.2, 0.3, 0.35)


def at(day, hour=0.0):
    """Return the instant of a local hour of day number ``day``."""
    return local_instant(PARIS, START + timedelta(days=day), round(hour * 60), "start")


def lived(days, seed=1, rise=7.0, away=()):
    """Return a record of whole days; ``away`` are spans (ms) without any movement."""
    rng = np.random.default_rng(seed)
    signs = {room: [] for room in ROOMS}
    for day in range(days):
        signs["bathroom"] += [at(day, 2 + rng.normal(0, 0.2)), at(day, 5 + rng.normal(0, 0.2))]
        now, bed = at(day, rise + rng.normal(0, 0.2)), at(day, 22.5 + rng.normal(0, 0.2))
        while now < bed:
            signs[str(rng.choice(ROOMS, p=SHARES))].append(now)
            now += round(rng.exponential(8 * MINUTE)) + 30_000
    return record_of({f"{room}_pir.movement": times for room, times in signs.items()}, (at(0), at(days)), away)


def record_of(pulses, span, away=(), zone="Europe/Paris"):
    """Return a record of pulses by name, without those in ``away``; its gaps are those without any report."""
    signals = {}
    for name, times in pulses.items():
        kept = np.unique(np.array(times, np.int64))
        for start, end in away:
            kept = kept[(kept < start) | (kept >= end)]
        signals[name] = Pulses(kept)
    events = sum(len(column.times) for column in signals.values())
    return with_no_report_gaps(Record(zone, span, signals, events=events))


def with_signals(record, **columns):
    """Return the record with further signals; __ in a name stands for the dot."""
    signals = {**record.signals, **{name.replace("__", "."): column for name, column in columns.items()}}
    return replace(record, signals=signals)


def learned_of(table, per_day, days=30):
    """Return limits as the learner gives them, where only the table matters."""
    return Learned(table, per_day, 0.0, 1.0, days, Tail(0.0, 0.0, 1.0, 1))
