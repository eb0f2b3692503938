"""Learned limits walked forward: relearned every night from what was known by then, judged on the day that follows."""

from dataclasses import replace

import numpy as np

from stillwell.limits.cleaning import clean, known_by
from stillwell.limits.learn import Learned, learn
from stillwell.limits.settings import LONGEST_MS, Settings
from stillwell.limits.silences import Silences, silences_of
from stillwell.record.columns import Pulses, Record
from walkforward.stream import NEVER_MS, Stream, exits_by_name

NAME = "learned"
UNIT = "days a false alarm"
BUDGET_DAYS = (1.5, 2.0, 3.0, 4.0, 5.0, 7.0, 10.0, 14.0, 20.0, 25.0, 30.0, 45.0, 60.0, 90.0, 120.0, 180.0)
"""Sweep of the budget: one false alarm in so many days, from eager to patient."""


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
        for row, one in zip(told, learned, strict=True):
            row[today] = times + _limits(one, silences, stream, today)
    return told, learned


def knowing(silences: Silences, stream: Stream, days_a_false_alarm: float) -> np.ndarray:
    """Return when one table tells after each sign, learned from all days, also those that are judged."""
    [learned] = learn(silences, [1 / days_a_false_alarm], exits_by_name(stream.parts))
    return stream.times + _limits(learned, silences, stream, slice(None))


def _limits(learned: Learned, silences: Silences, stream: Stream, signs: np.ndarray | slice) -> np.ndarray:
    """Return the limits in ms after some signs; a part that was not learned of has those of the rest."""
    parts = (*silences.parts, "")
    index = np.array([parts.index(part) if part in parts else len(parts) - 1 for part in stream.parts])
    return learned.table.limits(parts, index[stream.part[signs]], stream.local[signs])


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
