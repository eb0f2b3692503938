"""The time axis of the columnar evaluator, and the arithmetic of step functions on it.

An axis is one or more *lanes*: stretches of time laid one behind the other, so far apart that no duration reaches
from one into the next. A record is one lane. Many futures of one home, each from another onset on, are many lanes
and are evaluated by the same few array passes.

A step function is a pair of sorted times and values. On an axis it has an entry at the start of every lane, and no
two neighbouring entries of a lane carry the same value.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from stillwell.record.columns import FALSE, TRUE, UNKNOWN, Pulses, Steps, Times


@dataclass(frozen=True, slots=True)
class Axis:
    """Lanes as sorted arrays of equal length: start, end (excluded), and the instant from which a lane is decided.

    Before ``live`` a lane only remembers: what happened then is given, not worked out again.
    """

    starts: Times
    ends: Times
    live: Times

    @staticmethod
    def of_span(start_ms: int, end_ms: int) -> "Axis":
        """Return the axis of one record."""
        start = np.array([start_ms], np.int64)
        return Axis(start, np.array([end_ms], np.int64), start)

    def lane_of(self, times: Times) -> NDArray[np.intp]:
        """Return the lane that each time lies in."""
        return np.searchsorted(self.starts, times, "right") - 1

    def end_of(self, times: Times) -> Times:
        """Return the end of the lane that each time lies in."""
        if len(self.starts) == 1:
            return np.broadcast_to(self.ends, times.shape)
        return self.ends[self.lane_of(times)]

    def inside(self, times: Times) -> NDArray[np.bool_]:
        """Tell which times lie in their lane."""
        if len(self.starts) == 1:
            alone: NDArray[np.bool_] = (times >= self.starts[0]) & (times < self.ends[0])
            return alone
        lanes = self.lane_of(times)
        found: NDArray[np.bool_] = (lanes >= 0) & (times < self.ends[lanes])
        return found


def steps_from(axis: Axis, changes: Sequence[tuple[Times, Any]], initial: Any) -> Steps:
    """Build a step function from unsorted changes.

    ``changes`` are (times, values) groups; at one time the later group wins. ``initial`` is the value at the start
    of each lane where no change says otherwise: one value, or one a lane.
    """
    initial_values = np.broadcast_to(np.asarray(initial), axis.starts.shape)
    groups = [(axis.starts, initial_values), *changes]
    times = np.concatenate([group[0] for group in groups])
    dtype = initial_values.dtype
    values = np.concatenate([np.broadcast_to(np.asarray(group[1], dtype), group[0].shape) for group in groups])
    order = np.argsort(times, kind="stable")
    times, values = times[order], values[order]
    last = np.append(times[1:] != times[:-1], np.True_)
    times, values = times[last], values[last]
    keep = axis.inside(times)
    return merge_equal(axis, times[keep], values[keep])


def merge_equal(axis: Axis, times: Times, values: NDArray[Any]) -> Steps:
    """Drop entries that repeat the value before them, except at the start of a lane."""
    same = values[1:] == values[:-1]
    if values.dtype.kind == "f":
        same |= np.isnan(values[1:]) & np.isnan(values[:-1])
    keep = np.append(np.True_, ~same)[: len(times)]
    if len(axis.starts) > 1:
        keep[np.searchsorted(times, axis.starts)] = True
    return Steps(times[keep], values[keep])


def at(steps: Steps, times: Times) -> Any:
    """Return the value of a step function at each time (right-continuous)."""
    return steps.values[np.searchsorted(steps.times, times, "right") - 1]


def merged_times(columns: Sequence[Steps]) -> Times:
    """Return the sorted times at which any of the step functions changes."""
    if len(columns) == 1:
        return columns[0].times
    times = np.concatenate([column.times for column in columns])
    return _sorted_once(times)


def _sorted_once(times: Times) -> Times:
    times.sort(kind="stable")
    kept: Times = times[np.append(np.True_, times[1:] != times[:-1])]
    return kept


def union(pulses: Sequence[Pulses]) -> Pulses:
    """Return the instants of any of them, each once."""
    filled = [one.times for one in pulses if len(one.times)]
    if not filled:
        return Pulses(np.empty(0, np.int64))
    if len(filled) == 1:
        return Pulses(filled[0])
    return Pulses(_sorted_once(np.concatenate(filled)))


def runs(axis: Axis, steps: Steps, value: int) -> tuple[Times, Times]:
    """Return starts and ends of the stretches where a level has the value; a lane's end ends a stretch."""
    found = np.flatnonzero(steps.values == value)
    starts = steps.times[found]
    following = np.append(steps.times[1:], axis.ends[-1])[found]
    return starts, np.minimum(following, axis.end_of(starts))


def cover(starts: Times, ends: Times) -> tuple[Times, Times]:
    """Return the union of intervals as sorted, disjoint intervals that do not touch. Empty ones are dropped."""
    keep = starts < ends
    starts, ends = starts[keep], ends[keep]
    if not len(starts):
        return starts, ends
    order = np.argsort(starts, kind="stable")
    starts, reach = starts[order], np.maximum.accumulate(ends[order])
    new = np.append(np.True_, starts[1:] > reach[:-1])
    return starts[new], reach[np.append(new[1:], np.True_)]


def level_from_runs(axis: Axis, true: tuple[Times, Times], unknown: tuple[Times, Times] | None = None) -> Steps:
    """Build a level that is true on some stretches, unknown on others (where not true), else false."""
    true_starts, true_ends = cover(*true)
    groups: list[tuple[Times, Any]] = []
    if unknown is not None:
        unknown_starts, unknown_ends = cover(*unknown)
        groups += [(unknown_ends, FALSE), (unknown_starts, UNKNOWN)]
        after = np.full(len(true_ends), FALSE, np.int8)
        if len(unknown_starts) and len(true_ends):
            last = np.searchsorted(unknown_starts, true_ends, "right") - 1
            within = (last >= 0) & (true_ends < unknown_ends[last])
            after[within] = UNKNOWN
        # a stretch of unknown that begins or ends inside a true stretch must not cut it
        groups = [_outside(group, true_starts, true_ends) for group in groups]
        groups += [(true_ends, after), (true_starts, TRUE)]
    else:
        groups += [(true_ends, FALSE), (true_starts, TRUE)]
    return steps_from(axis, groups, np.int8(FALSE))


def _outside(group: tuple[Times, Any], starts: Times, ends: Times) -> tuple[Times, Any]:
    times, value = group
    if not len(starts):
        return group
    last = np.searchsorted(starts, times, "right") - 1
    free = (last < 0) | (times >= ends[last])
    return times[free], value


def changes_of_known(axis: Axis, steps: Steps, before: Any = None) -> tuple[Times, NDArray[np.int8]]:
    """Return when, from ``live`` on, the last known value of a level changes, and to what.

    ``before`` is what was last known just before ``live``, one a lane (unknown: nothing ever was); None where the
    lanes hold all the history there is. The first value known at all counts as a change.
    """
    times, values = steps.times, steps.values
    if before is not None:
        lanes = axis.lane_of(times)
        later = times >= axis.live[lanes]
        at_live = at(steps, axis.live)
        times = np.concatenate([axis.live - 1, axis.live, times[later]])
        values = np.concatenate([np.broadcast_to(np.asarray(before, np.int8), at_live.shape), at_live, values[later]])
        order = np.argsort(times, kind="stable")
        times, values = times[order], values[order]
    keep = values != UNKNOWN
    times, values = times[keep], values[keep]
    if not len(times):
        return times, values.astype(np.int8)
    lanes = axis.lane_of(times)
    change = np.append(np.True_, (values[1:] != values[:-1]) | (lanes[1:] != lanes[:-1]))
    change &= times >= axis.live[lanes]
    return times[change], values[change].astype(np.int8)


def constant(axis: Axis, value: int) -> Steps:
    """Return a level that never changes."""
    return Steps(axis.starts, np.full(len(axis.starts), value, np.int8))
