"""Many futures of one recorded home at once: from each of many instants on, some signals fall silent.

Each future is a lane: the record's own history up to its instant, then what goes on without the silenced signals.
History is remembered exactly, because every operator looks only at the past: what a node was before the instant is
read off the record's own columns, and how far back a lane must reach follows from the rules' durations.
"""

from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from stillwell.engine.axis import Axis, at, changes_of_known
from stillwell.engine.columns import Columns, Reports
from stillwell.engine.operators import (
    calendar,
    compare,
    count,
    edge,
    follow,
    held,
    limits,
    logic,
    lost,
    reported,
    settings,
    silence,
)
from stillwell.engine.program import Program
from stillwell.record.columns import TRUE, UNKNOWN, Column, Pulses, Steps, Times


@dataclass(frozen=True)
class Lanes:
    """Futures on one axis: ``columns`` to ask, and the real time of a lane's time."""

    columns: Columns
    shift: Times

    def real(self, times: Times) -> tuple[NDArray[np.intp], Times]:
        """Return the lane and the real time of times on the axis."""
        lanes = self.columns.axis.lane_of(times)
        return lanes, times - self.shift[lanes]


@dataclass(frozen=True)
class _Slices:
    """Which stretch of real time each lane shows: from ``low`` to ``high``, decided after ``onset``."""

    low: Times
    onset: Times
    high: Times
    shift: Times


class Futures:
    """Prepares lanes of a record for some targets (nodes of the program)."""

    def __init__(self, base: Columns, targets: list[int], silenced: AbstractSet[str], horizon_ms: int) -> None:
        """Keep what all lanes share.

        ``base`` are the columns of the whole record, ``silenced`` the names of signals that end at the onset,
        ``horizon_ms`` how far each future is followed.
        """
        self.base = base
        self.program = base.program
        self.targets = targets
        self.silenced = silenced
        self.horizon_ms = horizon_ms
        self.memory_ms = max((depth(self.program, target) for target in targets), default=0) + 1
        start, end = int(base.axis.starts[0]), int(base.axis.ends[0])
        whole = Axis.of_span(start - self.memory_ms, end + horizon_ms + 1)
        self.calendar = Columns(self.program, whole, Reports({}))
        self.tails = self._silent_tails()
        self.nodes = self.program.cone(targets, self.tails)

    def after(self, onsets: Times) -> Lanes:
        """Return the futures in which the silenced signals report for the last time at or before each onset."""
        start = int(self.base.axis.starts[0])
        low = np.maximum(onsets - self.memory_ms, start)
        high = onsets + self.horizon_ms
        pitch = 2 * self.memory_ms + self.horizon_ms + 2
        shift = np.arange(len(onsets), dtype=np.int64) * pitch + self.memory_ms - onsets
        slices = _Slices(low, onsets, high, shift)
        axis = Axis(low + shift, high + shift, onsets + 1 + shift)
        given, initial, before, past = self._history(slices)
        reports = Reports(self._reports(slices))
        return Lanes(Columns(self.program, axis, reports, given, initial, before, past), shift)

    def _silent_tails(self) -> set[int]:
        """Return pulse nodes that only the silenced feed and only silence rules read: their last pulse is enough."""
        cone = self.program.cone(self.targets)
        readers: dict[int, list[Any]] = {node: [] for node in cone}
        for node in cone:
            for child in self.program.nodes[node].children:
                readers[child].append(self.program.nodes[node].operator)
        tails = set()
        for node in cone:
            only_silence = readers[node] and all(
                isinstance(one, silence.Silence | limits.Limits) for one in readers[node]
            )
            if only_silence and node not in self.targets and falls_silent(self.program, node, self.silenced):
                tails.add(node)
        return tails

    def _history(self, slices: _Slices) -> tuple[dict[int, Column], dict[int, Any], dict[int, Any], dict[int, Pulses]]:
        given: dict[int, Column] = {}
        initial: dict[int, Any] = {}
        before: dict[int, Any] = {}
        past: dict[int, Pulses] = {}
        for node in self.nodes:
            operator, children = self.program.nodes[node].operator, self.program.nodes[node].children
            match operator:
                case _ if node in self.tails:
                    given[node] = _last_pulse(self.base.pulses(node).times, slices)
                case lost.Lost():
                    given[node] = slice_steps(self.base.steps(node), slices.low, slices.high, slices.shift)
                case calendar.Window() | calendar.Weekdays():
                    steps = self.calendar.steps(node)
                    given[node] = slice_steps(steps, slices.low, slices.high, slices.shift)
                case calendar.Daily():
                    times = self.calendar.pulses(node).times
                    given[node] = slice_pulses(times, slices.low, slices.high, slices.shift)
                case reported.LevelReport() | reported.NumberReport() | settings.State() | settings.Switched():
                    initial[node] = at(self.base.steps(node), slices.low)
                case edge.Edge() | edge.Fire():
                    past[node] = slice_pulses(self.base.pulses(node).times, slices.low, slices.onset + 1, slices.shift)
                    if not self.program.is_pulse(children[0]):
                        before[children[0]] = _last_known(self.base.steps(children[0]), slices.onset)
                case _:
                    pass
        return given, initial, before, past

    def _reports(self, slices: _Slices) -> dict[str, Column]:
        found: dict[str, Column] = {}
        for node in self.nodes:
            operator = self.program.nodes[node].operator
            match operator:
                case reported.PulseReport() | reported.LevelReport() | reported.NumberReport():
                    name = operator.signal
                case settings.Switched():
                    name = f"{operator.part}.on"
                case settings.State():
                    name = operator.name
                case _:
                    continue
            column = self.base.reports.signals.get(name)
            high = slices.onset + 1 if name in self.silenced else slices.high
            if isinstance(operator, settings.Switched):
                found[name] = self._switched_reports(node, column, slices, high)
            elif column is None or node in self.tails:
                continue
            elif isinstance(column, Pulses):
                found[name] = slice_pulses(column.times, slices.low, high, slices.shift)
            else:
                found[name] = _slice_changes(column, slices.low + 1, high, slices.shift)
        return found

    def _switched_reports(self, node: int, reports: Column | None, slices: _Slices, high: Times) -> Steps:
        """Return reports of a switched part: until the onset what it did, whoever switched it, then what is reported.

        A command given before the lane began may still run out within it.
        """
        done = self.base.steps(node)
        if not isinstance(reports, Steps):
            return _slice_changes(done, slices.low + 1, slices.onset + 1, slices.shift)
        times = np.union1d(done.times, reports.times)
        until = _slice_changes(Steps(times, at(done, times)), slices.low + 1, slices.onset + 1, slices.shift)
        later = _slice_changes(reports, slices.onset + 1, high, slices.shift)
        times = np.concatenate([until.times, later.times])
        order = np.argsort(times, kind="stable")
        return Steps(times[order], np.concatenate([until.values, later.values])[order])


def falls_silent(program: Program, node: int, silenced: AbstractSet[str]) -> bool:
    """Tell whether a pulse node gives nothing once the silenced signals end: no clock in it, no delay, nobody else."""
    for below in program.cone([node]):
        match program.nodes[below].operator:
            case reported.PulseReport(name) | reported.LevelReport(name) | reported.NumberReport(name):
                if name not in silenced:
                    return False
            case logic.AnyPulse() | logic.PulseWhile() | logic.AllOf() | logic.AnyOf() | logic.Negation() | edge.Edge():
                if any(isinstance(program.nodes[child].operator, lost.Lost) for child in program.nodes[below].children):
                    return False  # a part may be lost, or heard again, after the onset
            case compare.Compare() | lost.Lost():
                pass
            case _:
                return False
    return program.is_pulse(node)


def depth(program: Program, target: int) -> int:
    """Return how many milliseconds back a node's value depends on what happened, states and last reports aside."""
    depths: dict[int, int] = {}
    for node in program.cone([target]):
        operator, children = program.nodes[node].operator, program.nodes[node].children
        own = 0
        match operator:
            case held.Held() | silence.Silence() | count.Count() | follow.Then() | follow.Without():
                own = operator.duration_ms
            case limits.Limits():
                own = operator.longest_ms
            case settings.Switched():
                own = max((order.for_ms or 0 for order in operator.orders), default=0)
            case _:
                pass
        depths[node] = own + max((depths[child] for child in children), default=0)
    return depths[target]


def _indices(times: Times, low: Times, high: Times) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return the indices of the times in [low, high) of each lane, lane by lane, and the lane of each."""
    first = np.searchsorted(times, low, "left")
    counts = np.maximum(np.searchsorted(times, high, "left") - first, 0)
    lanes = np.repeat(np.arange(len(low)), counts)
    begin = np.cumsum(counts) - counts
    return np.arange(len(lanes)) - begin[lanes] + first[lanes], lanes


def slice_pulses(times: Times, low: Times, high: Times, shift: Times) -> Pulses:
    """Return for each lane the pulses in [low, high), shifted to the lane's time."""
    index, lanes = _indices(times, low, high)
    return Pulses(times[index] + shift[lanes])


def _slice_changes(steps: Steps, low: Times, high: Times, shift: Times) -> Steps:
    index, lanes = _indices(steps.times, low, high)
    return Steps(steps.times[index] + shift[lanes], steps.values[index])


def _last_pulse(times: Times, slices: _Slices) -> Pulses:
    last = np.searchsorted(times, slices.onset, "right") - 1
    some = np.flatnonzero(last >= 0)
    found = times[last[some]]
    recent = found >= slices.low[some]
    return Pulses(found[recent] + slices.shift[some[recent]])


def slice_steps(steps: Steps, low: Times, high: Times, shift: Times) -> Steps:
    """Return for each lane the step function on [low, high), shifted to the lane's time."""
    changes = _slice_changes(steps, low + 1, high, shift)
    times = np.concatenate([low + shift, changes.times])
    values = np.concatenate([np.asarray(at(steps, low)), changes.values])
    order = np.argsort(times, kind="stable")
    return Steps(times[order], values[order])


def _last_known(steps: Steps, onsets: Times) -> NDArray[np.int8]:
    known = steps.values != UNKNOWN
    times, values = steps.times[known], steps.values[known]
    last = np.searchsorted(times, onsets, "right") - 1
    found = np.full(len(onsets), UNKNOWN, np.int8)
    found[last >= 0] = values[last[last >= 0]]
    return found


def standing(columns: Columns, condition: int) -> tuple[Times, Times]:
    """Return the stretches (start, end) on the axis during which an alarm stands, from each lane's onset on.

    It stands from the instant its level condition is true until the condition is known to be false; a pulse leaves
    nothing standing.
    """
    column, axis = columns.column(condition), columns.axis
    if isinstance(column, Pulses):
        return column.times[:0], column.times[:0]
    before = columns.before.get(condition, UNKNOWN)
    times, values = changes_of_known(axis, column, before)
    times = np.concatenate([axis.live - 1, times])
    values = np.concatenate([np.broadcast_to(np.asarray(before, np.int8), axis.live.shape), values])
    order = np.argsort(times, kind="stable")
    times, values = times[order], values[order]
    found = np.flatnonzero(values == TRUE)
    ends = np.append(times[1:], axis.ends[-1])[found]
    return times[found], np.minimum(ends, axis.end_of(times[found]))
