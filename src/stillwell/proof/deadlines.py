"""By when somebody must have been told, at every onset, and at which onsets a proof comes too late."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillwell.civiltime import Span
from stillwell.engine.axis import Axis, cover, runs
from stillwell.engine.columns import Columns, Reports
from stillwell.engine.program import compile_formula
from stillwell.plan.model import Plan
from stillwell.proof.curve import NEVER, Curve
from stillwell.proof.results import HazardResult
from stillwell.proof.world import DAY_MS
from stillwell.record.columns import TRUE, Times

WEEK_MS = 7 * DAY_MS


@dataclass(frozen=True)
class Deadlines:
    """The deadlines of a hazard over a span: within ``nights`` (starts, ends) that of the night, else that of the day.

    ``only_at_night``: the hazard counts at no other time.
    """

    nights: tuple[Times, Times]
    day_ms: int
    night_ms: int
    only_at_night: bool

    def at(self, onsets: Times) -> Times:
        """Return the deadline in milliseconds at each onset."""
        return np.where(self.by_night(onsets), self.night_ms, self.day_ms).astype(np.int64)

    def by_night(self, onsets: Times) -> NDArray[np.bool_]:
        """Tell which onsets lie in a night."""
        starts, ends = self.nights
        return np.asarray(np.searchsorted(starts, onsets, "right") > np.searchsorted(ends, onsets, "right"))


def deadlines(plan: Plan, result: HazardResult) -> Deadlines:
    """Return the deadlines over the span of a result."""
    program, node = compile_formula(plan, plan.home.night.formula)
    axis = Axis.of_span(int(result.told.points[0]), result.told.end)
    nights = runs(axis, Columns(program, axis, Reports({})).steps(node), TRUE)
    hazard = result.hazard
    return Deadlines(nights, hazard.deadline.day, hazard.deadline.night, hazard.kind == "wandering")


def counted(told: Curve, limit: Deadlines) -> Sequence[Curve]:
    """Return the stretches of a curve that count, cut where the deadline changes."""
    cut = told.cut(np.concatenate(limit.nights))
    if not limit.only_at_night:
        return [cut]
    return [cut.between(start, end) for start, end in zip(*map(np.ndarray.tolist, limit.nights), strict=True)]


def late(result: HazardResult, limit: Deadlines) -> list[Span]:
    """Return the stretches of onsets at which nobody is told within the deadline; single instants are left out."""
    return _joined(result, [_late(curve, limit) for curve in counted(result.told, limit)])


def never(result: HazardResult, limit: Deadlines) -> list[Span]:
    """Return the stretches of onsets at which nobody is ever told; single instants are left out."""
    return _joined(result, [_cells(curve, curve.value == NEVER) for curve in counted(result.told, limit)])


def worst(result: HazardResult, limit: Deadlines) -> list[Span]:
    """Return the stretches of onsets from all of which it takes longest; single instants are left out."""
    if result.normal.worst_s is None:
        return never(result, limit)
    longest = round(result.normal.worst_s * 1000)
    curves = counted(result.told, limit)
    return _joined(result, [_cells(curve, ~curve.fixed & (curve.value == longest)) for curve in curves])


def as_bad(result: HazardResult, onset_ms: int) -> list[int]:
    """Return the onsets, whole days from the given one, from which it takes as long as from that."""
    told = result.told
    onsets = np.arange(onset_ms - (onset_ms - int(told.points[0])) // DAY_MS * DAY_MS, told.end, DAY_MS)
    here = int(told.at(np.array([onset_ms], np.int64))[0])
    instants = told.at(onsets)
    same = instants == NEVER if here == NEVER else instants - onsets == here - onset_ms
    found: list[int] = onsets[same].tolist()
    return found


def _cells(curve: Curve, chosen: NDArray[np.bool_]) -> tuple[Times, Times]:
    return curve.points[chosen], curve.stops()[chosen]


def _late(curve: Curve, limit: Deadlines) -> tuple[Times, Times]:
    points, stops = curve.points, curve.stops()
    allowed = limit.at(np.minimum(points + 1, stops - 1))
    never_told = curve.value == NEVER
    until = np.where(curve.fixed & ~never_told, np.where(never_told, 0, curve.value) - allowed, points)
    until = np.where(never_told | (~curve.fixed & (curve.value > allowed)), stops, until)
    until = np.clip(until, points, stops)
    return points[until > points], until[until > points]


def _joined(result: HazardResult, found: list[tuple[Times, Times]]) -> list[Span]:
    """Join stretches that touch; in a week that stands for every week, also its last to its first."""
    starts, ends = cover(np.concatenate([one[0] for one in found]), np.concatenate([one[1] for one in found]))
    spans = list(zip(starts.tolist(), ends.tolist(), strict=True))
    begin, end = int(result.told.points[0]), result.told.end
    if len(spans) > 1 and end - begin == WEEK_MS and spans[0][0] == begin and spans[-1][1] == end:
        spans = [*spans[1:-1], (spans[-1][0], spans[0][1] + WEEK_MS)]
    return spans
