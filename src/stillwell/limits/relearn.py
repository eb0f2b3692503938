"""Learning anew every night: a table that moves towards what was heard of late, within the bounds that the plan sets.

A table is learned anew only if it says by how much it may change in a night (``relearn``) and what for
(``one_false_in``). Each limit moves by at most that much, never below ``shortest``, never above ``longest``. Rows that
hang on a door (``after_door``) were thought about by a person, and stay above the others as they are. What comes out is
a proposal: whoever runs the watch has it proved, and takes it or not; either way the reason is kept.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise
from typing import Final, Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from stillwell.civiltime import ClockTime
from stillwell.limits.cleaning import clean
from stillwell.limits.proposal import FEW_DAYS, Learner, default_learner
from stillwell.limits.realised import NOT_THERE, Judged, judge, signs_of_record, told_by
from stillwell.limits.signs import heard
from stillwell.limits.support import expected_rate
from stillwell.limits.table import DAY_MINUTES, DAY_MS, MINUTE_MS, LimitTable, weekday
from stillwell.plan.limits import LimitRow as PlanRow
from stillwell.plan.limits import LimitTable as PlanTable
from stillwell.plan.model import Plan
from stillwell.plan.signs import row_fits, signs
from stillwell.record.columns import Record, Times
from stillwell.rules.formula import Signal
from stillwell.rules.words import duration_text

SLOT_MINUTES: Final = 30
COMPARED_DAYS: Final = 56

Verdict: TypeAlias = Literal["changed", "as it was", "too few days", "too many false alarms"]


@dataclass(frozen=True)
class Night:
    """What one night's learning came to for one table.

    ``table`` is what is proposed (the running one where nothing is), ``changed`` how many limits of half-hours differ
    and ``most_ms`` by how much at most. ``before`` and ``after`` are what both did on the last eight weeks.
    """

    name: str
    verdict: Verdict
    table: PlanTable
    days: int
    changed: int = 0
    most_ms: int = 0
    before: Judged | None = None
    after: Judged | None = None


class PlanLimits:
    """A table of a plan, to be judged on a record: limits by the part, half-hour and day of each sign.

    Rows that hang on a door are left out, for a sign by itself does not tell of doors.
    """

    def __init__(self, plan: Plan, table: PlanTable) -> None:
        self._longest_ms = table.longest
        self._of_part = {part: limits_of(plan, table, part) for part in parts_of(plan, table)}

    def limits(self, parts: Sequence[str], part: NDArray[np.int64], local_ms: Times) -> Times:
        """Return the limit in ms that each sign sets."""
        slot = local_ms // MINUTE_MS % DAY_MINUTES // SLOT_MINUTES
        unknown = np.full((7, DAY_MINUTES // SLOT_MINUTES), self._longest_ms, np.int64)
        grids = np.stack([self._of_part.get(name, unknown) for name in parts] or [unknown])
        found: Times = grids[part, weekday(local_ms), slot]
        return found


def relearn(plan: Plan, record: Record, name: str, learner: Learner | None = None) -> Night:
    """Learn one table anew from a record, as far as its bounds allow. It must say ``relearn`` and ``one_false_in``."""
    table = plan.limits[name]
    assert table.relearn is not None
    assert table.one_false_in is not None
    per_day = DAY_MS / table.one_false_in
    whole, names = heard(plan, record)
    cleaned = clean(whole, names)
    days = len(cleaned.used)
    if days < FEW_DAYS:
        return Night(name, "too few days", table, days)
    learned = (learner or default_learner(plan, table.longest))(cleaned, [per_day])[0].table
    proposed, changed, most_ms = towards(plan, table, learned)
    if not changed:
        return Night(name, "as it was", table, days)
    heard_signs = signs_of_record(cleaned, names)
    judged = [number for number, day in enumerate(heard_signs.days) if day.left_out not in NOT_THERE][-COMPARED_DAYS:]
    before, after = (
        judge(heard_signs, told_by(PlanLimits(plan, each), heard_signs), judged) for each in (table, proposed)
    )
    allowed = expected_rate(1 / per_day, after.days).count
    if after.false.count > max(allowed, before.false.count):
        return Night(name, "too many false alarms", table, days, changed, most_ms, before, after)
    return Night(name, "changed", proposed, days, changed, most_ms, before, after)


def towards(plan: Plan, current: PlanTable, learned: LimitTable) -> tuple[PlanTable, int, int]:
    """Move a table's limits towards learned ones, by ``relearn`` at most and within its bounds.

    Where it told no sooner than a table for fewer days a false alarm, and no later than one for more, it stays so: the
    family is not called before the resident was asked. Return the table, of how many half-hours the limit differs, and
    by how much at most in ms.
    """
    assert current.relearn is not None
    rows: list[PlanRow] = [row for row in current.rows if row.after_door is not None]
    changed = most_ms = 0
    for part, names in parts_of(plan, current).items():
        old = limits_of(plan, current, part)
        new = _moved(old, _learned(learned, part), current.relearn, current.shortest or 0, current.longest)
        for other in plan.limits.values():
            new = _in_order(new, old, limits_of(plan, other, part), current, other)
        changed += int((new != old).sum())
        most_ms = max(most_ms, int(np.abs(new - old).max()))
        rows += [row for name in names for row in _rows(name, new)]
    table = current.model_copy(update={"rows": tuple(rows)})
    return (table, changed, most_ms) if changed else (current, 0, 0)


def parts_of(plan: Plan, table: PlanTable) -> dict[str, tuple[str, ...]]:
    """Return the parts whose signs the table is about, and under which names."""
    found: dict[str, list[str]] = {}
    for sign in signs(plan, table.signal):
        if isinstance(sign.formula, Signal):
            found.setdefault(sign.formula.name.partition(".")[0], []).append(sign.formula.name)
    return {part: tuple(sorted(names)) for part, names in found.items()}


def limits_of(plan: Plan, table: PlanTable, part: str) -> NDArray[np.int64]:
    """Return the limits in ms after signs from a part, by weekday and half-hour: (7, 48). Doors are left aside.

    Of several signs of the part the shortest limit counts, as where they come at once.
    """
    own = [
        sign
        for sign in signs(plan, table.signal)
        if isinstance(sign.formula, Signal) and sign.formula.name.partition(".")[0] == part
    ]
    slots = DAY_MINUTES // SLOT_MINUTES
    found = np.full((7, slots), table.longest, np.int64)
    for number, sign in enumerate(own):
        limits = np.full((7, slots), table.longest, np.int64)
        for row in reversed(table.rows):
            if row.after_door is None and row_fits(row, sign):
                limits[_where(row)] = row.limit
        found = limits if number == 0 else np.minimum(found, limits)
    return found


def _where(row: PlanRow) -> NDArray[np.bool_]:
    """Return at which weekdays and half-hours a row applies; of a half-hour its beginning counts."""
    minutes = np.arange(0, DAY_MINUTES, SLOT_MINUTES)
    within = np.ones(len(minutes), bool)
    if row.hours is not None:
        start, end = (time.minute for time in row.hours)
        after, before = minutes >= start, minutes < end
        within = after & before if start < end else after | before
    days = np.isin(np.arange(7), list(row.days))
    return days[:, None] & within[None, :]


def _learned(table: LimitTable, part: str) -> NDArray[np.int64]:
    """Return learned limits by weekday and half-hour."""
    minutes = np.arange(0, DAY_MINUTES, SLOT_MINUTES, dtype=np.int64)
    # 5 January 1970 was a Monday
    local = ((4 + np.arange(7, dtype=np.int64)[:, None]) * DAY_MS + minutes[None, :] * MINUTE_MS).ravel()
    return table.limits([part], np.zeros(len(local), np.int64), local).reshape(7, -1)


def _moved(
    old: NDArray[np.int64], new: NDArray[np.int64], most_ms: int, shortest_ms: int, longest_ms: int
) -> NDArray[np.int64]:
    wanted = np.clip(new, shortest_ms, longest_ms)
    moved: NDArray[np.int64] = old + np.clip(wanted - old, -most_ms, most_ms)
    return moved


def _in_order(
    new: NDArray[np.int64], old: NDArray[np.int64], others: NDArray[np.int64], current: PlanTable, other: PlanTable
) -> NDArray[np.int64]:
    """Keep moved limits from passing those of another table for the same signs, where they had not passed before."""
    if current.one_false_in is None or other.one_false_in is None or other.signal != current.signal:
        return new
    if other.one_false_in < current.one_false_in:
        return np.where(old >= others, np.maximum(new, others), new)
    if other.one_false_in > current.one_false_in:
        return np.where(old <= others, np.minimum(new, others), new)
    return new


def _rows(name: str, limits: NDArray[np.int64]) -> list[PlanRow]:
    """Write limits by weekday and half-hour as rows for one sign; days with the same limits share theirs."""
    alike: dict[bytes, list[int]] = {}
    for day, line in enumerate(limits):
        alike.setdefault(line.tobytes(), []).append(day)
    return [row for days in alike.values() for row in _day_rows(name, frozenset(days), limits[days[0]].tolist())]


def _day_rows(name: str, days: frozenset[int], slots: Sequence[int]) -> Iterator[PlanRow]:
    edges = [0, *(at for at, (one, other) in enumerate(pairwise(slots), 1) if one != other), len(slots)]
    for (start, end), (limit, _) in zip(pairwise(edges), groupby(slots), strict=True):
        given: dict[str, object] = {"last": name, "days": days, "limit": duration_text(limit)}
        if end - start < len(slots):
            given["from"] = ClockTime(start * SLOT_MINUTES)
            given["to"] = ClockTime(end * SLOT_MINUTES % DAY_MINUTES)
        yield PlanRow.model_validate(given)
