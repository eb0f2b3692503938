"""Is a part lost?

``lost`` holds at t when the part has reported nothing in (t - supervision, t], or when the radio has said that the
link is gone and the part has reported nothing since. The start of watching counts as a report. Without a supervision
time silence alone does not make a part lost.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from stillwell.engine.axis import Axis, constant, level_from_runs
from stillwell.engine.operators.cell import NEVER, Timers
from stillwell.record.columns import FALSE, TRUE, Steps, Times


@dataclass(frozen=True, slots=True)
class Lost:
    """Whether the part is lost; ``supervision_ms`` is the longest silence that is in order."""

    part: str
    supervision_ms: int | None


def column(operator: Lost, axis: Axis, reports: Times, link_lost: Times) -> Steps:
    """Return the level from the sorted instants of all reports and of the radio's own word."""
    empty = np.empty(0, np.int64)
    begins, ends = [empty], [empty]
    anchors = np.union1d(reports, axis.starts) if len(axis.starts) > 1 else np.append(axis.starts, reports)
    following = np.append(anchors[1:], axis.ends[-1])
    if operator.supervision_ms is not None:
        silent = np.flatnonzero(following - anchors > operator.supervision_ms)
        begins.append(anchors[silent] + operator.supervision_ms)
        ends.append(np.minimum(following[silent], axis.end_of(anchors[silent])))
    if len(link_lost):
        nearest = np.searchsorted(reports, link_lost)
        back = np.append(reports, axis.ends[-1])[nearest]
        begins.append(link_lost)
        ends.append(np.minimum(back, axis.end_of(link_lost)))
    if len(begins) == 1:
        return constant(axis, FALSE)
    return level_from_runs(axis, (np.concatenate(begins), np.concatenate(ends)))


class LostCell:
    """The driver writes ``last`` at every report of the part."""

    __slots__ = ("begin", "due", "fired", "index", "last", "link_lost_at", "supervision_ms", "timers", "value")

    def __init__(self, operator: Lost, index: int, timers: Timers) -> None:
        self.index = index
        self.timers = timers
        self.supervision_ms = operator.supervision_ms
        self.value = FALSE
        self.fired = NEVER
        self.begin = NEVER
        self.last = NEVER
        self.link_lost_at = NEVER
        self.due = NEVER

    def start(self, now: int) -> None:
        self.begin = now
        self._wake(now)

    def report(self, now: int, value: float | None) -> None:
        """Take the radio's own word: 1 link lost, 0 back."""
        if value:
            self.link_lost_at = now
        else:
            self.last = now

    def _wake(self, now: int) -> None:
        if self.supervision_ms is not None and self.due <= now:
            self.due = max(self.last, self.begin) + self.supervision_ms
            self.timers.wake(self.due, self.index)

    def update(self, now: int) -> bool:
        silent = self.supervision_ms is not None and now - max(self.last, self.begin) >= self.supervision_ms
        before = self.value
        self.value = TRUE if silent or self.link_lost_at > self.last else FALSE
        if not silent:
            self._wake(now)
        return self.value != before

    def dump(self) -> list[Any]:
        return [self.value, self.begin, self.last, self.link_lost_at]

    def load(self, memory: Sequence[Any]) -> None:
        self.value, self.begin, self.last, self.link_lost_at = memory
        self.due = NEVER
        if self.supervision_ms is not None:
            self.due = max(self.last, self.begin) + self.supervision_ms
            self.timers.wake(self.due, self.index)
