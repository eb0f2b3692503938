"""What learned limits do for one invented resident, walked forward over five years."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from residents.people import life_of
from stillwell.engine.axis import cover
from stillwell.limits.cleaning import clean, known_by
from stillwell.limits.proposal import Learner, default_learner
from stillwell.limits.realised import Judged, Signs, judge, pieces_of, signs_of_record
from stillwell.limits.settings import LONGEST_MS
from stillwell.limits.signs import heard
from stillwell.limits.together import not_before
from stillwell.limits.trust import changes
from stillwell.plan.model import Plan
from stillwell.plan.signs import outside_doors
from stillwell.record.columns import Pulses, Record, Steps
from stillwell.replay.distribution import NEVER_MS, Spread, spread
from stillwell.simulate.truth import Simulated

QUARTER, HALF_YEAR = 91, 182
FIRST_LEARNED_AFTER_DAYS = (28, 56, QUARTER)
AFTER_DOOR_MS = 15 * 60_000
DAYS = 5 * 364 + 28
"""So that one false alarm in 180 days is some nine: of fewer, chance alone brings too many residents beyond."""


@dataclass(frozen=True)
class Trial:
    """One resident, by budget: what limits did that were learned from less than half a year, and from half a year."""

    seed: int
    early: tuple[Judged, ...]
    later: tuple[Judged, ...]
    after_door: tuple[Spread, ...]
    """Of silences that begin at home within a quarter of an hour after an outside door moved, later."""


def trial(plan: Plan, seed: int, budgets_days: Sequence[float], days: int = DAYS) -> Trial:
    """Live with learned limits for some days; they are learned anew after four weeks, two months, and so on."""
    lived = life_of(plan, seed, days)
    record, names = heard(plan, lived.record)
    signs = signs_of_record(clean(record, names), names)
    told = np.full((len(budgets_days), len(signs.times)), NEVER_MS)
    teach = default_learner(plan, LONGEST_MS)
    edges = [*FIRST_LEARNED_AFTER_DAYS, *range(HALF_YEAR, len(signs.days), QUARTER)]
    for first, last in zip(edges, [*edges[1:], len(signs.days)], strict=True):
        told_now(told, signs, record, names, teach, budgets_days, first, last)
    early, later = range(edges[0], HALF_YEAR), range(HALF_YEAR, len(signs.days))
    spans = at_home_after_doors(plan, lived)
    return Trial(
        seed,
        tuple(judge(signs, each, early) for each in told),
        tuple(judge(signs, each, later) for each in told),
        tuple(spread(pieces_of(signs, each, later).within(spans)) for each in told),
    )


def at_home_after_doors(plan: Plan, lived: Simulated) -> list[tuple[int, int]]:
    """Return when the resident was at home and an outside door had moved within the last quarter of an hour."""
    doors = [lived.record.signals[f"{name}.open"] for name in outside_doors(plan)]
    moved = np.unique(np.concatenate([changes(door) for door in doors]))
    starts, ends = cover(moved, moved + AFTER_DOOR_MS)
    inside = []
    home = lived.truth.home
    for start, end in zip(starts.tolist(), ends.tolist(), strict=True):
        for come, go in home[(home[:, 0] < end) & (home[:, 1] > start)].tolist():
            inside.append((max(start, come), min(end, go)))
    return inside


def told_now(
    told: np.ndarray,
    signs: Signs,
    record: Record,
    names: Sequence[str],
    teach: Learner,
    budgets_days: Sequence[float],
    first: int,
    last: int,
) -> None:
    """Learn from what was known before day ``first``, at most half a year, and tell of the days until ``last``."""
    start = signs.days[first].start_ms
    from_ms = signs.days[max(0, first - HALF_YEAR)].start_ms
    known = clean(since(known_by(record, start), from_ms), names)
    learned = [each.table for each in teach(known, [1 / each for each in budgets_days])]
    on = (signs.day >= first) & (signs.day < last)
    earlier = learned[0]
    for row, table in zip(told, learned, strict=True):
        earlier = not_before(table, earlier)
        row[on] = signs.times[on] + earlier.limits(signs.parts, signs.part[on], signs.local[on])


def since(record: Record, from_ms: int) -> Record:
    """Return the record from an instant on."""
    signals = {}
    for name, column in record.signals.items():
        first = int(np.searchsorted(column.times, from_ms))
        times = column.times[first:]
        if len(times):
            signals[name] = Pulses(times) if isinstance(column, Pulses) else Steps(times, column.values[first:])
    gaps = tuple(gap for gap in record.gaps if gap.end_ms > from_ms)
    return replace(record, span=(from_ms, record.span[1]), signals=signals, gaps=gaps)
