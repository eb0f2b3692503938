"""Learned limits walked forward: relearned every night from what was known by then, judged on the day that follows."""

import re
from dataclasses import replace

import numpy as np

from stillwell.limits.cleaning import clean, known_by
from stillwell.limits.learn import LONGEST_MS, Learned, Settings, learn
from stillwell.limits.silences import Silences, silences_of
from stillwell.record.columns import Pulses, Record
from walkforward.stream import NEVER_MS, Stream

NAME = "learned"
UNIT = "days a false alarm"
BUDGET_DAYS = (1.5, 2.0, 3.0, 4.0, 5.0, 7.0, 10.0, 14.0, 20.0, 25.0, 30.0, 45.0, 60.0, 90.0, 120.0, 180.0)
"""Sweep of the budget: one false alarm in so many days, from eager to patient."""
AT_EXIT = re.compile(r"(^|_)(front|main|entrance|entry|outside|street|yard|garage|foyer)(_|$)")
NO_EXIT = re.compile(r"closet|switch|light|lamp")


def exits_by_name(parts: tuple[str, ...]) -> tuple[str, ...]:
    """Guess from names alone which parts are at the way out: a mapping, unlike a plan, does not say."""
    return tuple(part for part in parts if AT_EXIT.search(part) and not NO_EXIT.search(part))


def walk(
    record: Record,
    stream: Stream,
    days_a_false_alarm: tuple[float, ...] = BUDGET_DAYS,
    settings: Settings | None = None,
    *,
    every: int = 1,
    exits: bool = True,
) -> tuple[np.ndarray, list[Learned]]:
    """Return when each budget's limits tell after each sign of the judged days, and what was learned last.

    ``every``: nights from one learning to the next. Where there is nothing to learn from yet the cap is the limit.
    """
    told = np.full((len(days_a_false_alarm), len(stream.times)), NEVER_MS)
    at_exit = exits_by_name(stream.parts) if exits else ()
    learned: list[Learned] = []
    silences: Silences | None = None
    for number, day in enumerate(range(stream.train_days, len(stream.days))):
        if number % every == 0:
            silences = silences_of(clean(known_by(record, int(stream.days[day, 0]))), at_exit)
            try:
                learned = learn(silences, [1 / days for days in days_a_false_alarm], at_exit, settings)
            except ValueError:
                learned = []
        today = stream.past(day).today()
        times = stream.times[today]
        if not learned or silences is None:
            told[:, today] = times + LONGEST_MS
            continue
        parts = (*silences.parts, "")
        index = np.array([parts.index(part) if part in parts else len(parts) - 1 for part in stream.parts])
        for row, one in zip(told, learned, strict=True):
            row[today] = times + one.table.limits(parts, index[stream.part[today]], stream.local[today])
    return told, learned


def blind(record: Record, minutes: float) -> Record:
    """Return the record as detectors would have made it that see nothing for a while after each report."""
    signals = {}
    for name, column in record.signals.items():
        if isinstance(column, Pulses) and name.endswith(".movement"):
            signals[name] = Pulses(_thinned(column.times, round(minutes * 60_000)))
        else:
            signals[name] = column
    return replace(record, signals=signals)


def _thinned(times: np.ndarray, pause_ms: int) -> np.ndarray:
    kept, last = [], None
    for time in times.tolist():
        if last is None or time - last >= pause_ms:
            kept.append(time)
            last = time
    return np.array(kept, np.int64)
