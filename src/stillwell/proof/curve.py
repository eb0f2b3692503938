"""An instant as an exact, piecewise function of the onset.

Critical onsets cut time into open cells. In a cell the instant is either *fixed* (a time of the calendar) or
*follows* the onset (onset + so much); at a critical onset itself it may be anything. Notice time, the instant less
the onset, then falls with slope -1 or is constant within a cell, and its worst is a limit at a cell's left end or a
value at a critical onset. All times are whole milliseconds; ``NEVER`` stands for no instant.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import reduce

import numpy as np
from numpy.typing import NDArray

from stillwell.record.columns import Times

NEVER = int(np.iinfo(np.int64).max)


@dataclass(frozen=True, slots=True)
class Curve:
    """Critical onsets ``points`` with the instant ``there`` at each, and the open cell that begins after each.

    ``fixed`` and ``value`` describe the cells: the instant itself, or how long after the onset. The last cell ends
    at ``end``. All arrays have one length.
    """

    points: Times
    there: Times
    fixed: NDArray[np.bool_]
    value: Times
    end: int

    def at(self, onsets: Times) -> Times:
        """Return the instant for each onset."""
        cell = np.searchsorted(self.points, onsets, "right") - 1
        inside = self.value[cell] + np.where(self.fixed[cell], 0, onsets)
        return np.where(self.points[cell] == onsets, self.there[cell], inside)

    def stops(self) -> Times:
        """Return where each cell ends."""
        return np.append(self.points[1:], self.end)

    def cut(self, onsets: Times) -> "Curve":
        """Return the same curve with further critical onsets."""
        inner = onsets[(onsets > self.points[0]) & (onsets < self.end)]
        points = np.union1d(self.points, inner)
        if len(points) == len(self.points):
            return self
        cell = np.searchsorted(self.points, points, "right") - 1
        return Curve(points, self.at(points), self.fixed[cell], self.value[cell], self.end)

    def sooner(self, by: int) -> "Curve":
        """Return the same instants of the curve's onsets less so much."""
        value = np.where(self.fixed, self.value, self.value + by)
        return Curve(self.points - by, self.there, self.fixed, value, self.end - by)

    def between(self, start: int, end: int) -> "Curve":
        """Return the curve on the onsets from ``start`` to ``end`` (excluded) only."""
        cut = self.cut(np.array([start, end], np.int64))
        keep = (cut.points >= start) & (cut.points < end)
        return Curve(cut.points[keep], cut.there[keep], cut.fixed[keep], cut.value[keep], min(end, self.end))


def work_out(decide: Callable[[Times], Times], critical: Times, span: tuple[int, int]) -> Curve:
    """Work a curve out exactly from its critical onsets.

    ``decide`` gives the instant for whole onsets. A cell is asked for just after its start and just before its end.
    Where the two do not agree on one function the cell is halved until they do: a critical onset that was overlooked
    there costs time, not exactness.
    """
    start, end = span
    points = np.union1d(critical[(critical > start) & (critical < end)], np.array([start], np.int64))
    while True:
        stops = np.append(points[1:], end)
        left, right = np.minimum(points + 1, stops - 1), stops - 1
        asked = np.unique(np.concatenate([points, left, right]))
        known = decide(asked)
        there, first, last = (known[np.searchsorted(asked, onsets)] for onsets in (points, left, right))
        fixed = first == last
        follows = ~fixed & (last - first == right - left) & (first != NEVER) & (last != NEVER)
        value = np.where(follows, first - left, first)
        odd = ~(fixed | follows)
        if not odd.any():
            return Curve(points, there, fixed, value, end)
        points = np.union1d(points, (left[odd] + right[odd]) // 2)


def constant(instant: int, span: tuple[int, int]) -> Curve:
    """Return the curve of one fixed instant."""
    here = np.array([instant], np.int64)
    return Curve(np.array([span[0]], np.int64), here, np.array([True]), here, span[1])


def earliest(curves: Sequence[Curve]) -> Curve:
    """Return the least of several curves over the same onsets."""
    return reduce(lambda a, b: _pick(a, b, least=True), curves)


def latest(curves: Sequence[Curve]) -> Curve:
    """Return the greatest of several curves over the same onsets."""
    return reduce(lambda a, b: _pick(a, b, least=False), curves)


def _pick(a: Curve, b: Curve, *, least: bool) -> Curve:
    a, b = a.cut(b.points), b.cut(a.points)
    crossing = np.where(a.fixed & ~b.fixed, _meet(a, b), np.where(b.fixed & ~a.fixed, _meet(b, a), a.points))
    inside = (crossing > a.points) & (crossing < a.stops())
    if inside.any():
        a, b = a.cut(crossing[inside]), b.cut(crossing[inside])
    choose = np.minimum if least else np.maximum
    # within a cell neither overtakes the other now: compare them anywhere inside, doubled to stay whole
    middle = a.points + a.stops()
    first = _doubled(a, middle)
    second = _doubled(b, middle)
    mine = first <= second if least else first >= second
    return Curve(
        a.points,
        choose(a.there, b.there),
        np.where(mine, a.fixed, b.fixed),
        np.where(mine, a.value, b.value),
        a.end,
    )


def _meet(fixed: Curve, follows: Curve) -> Times:
    reachable = fixed.value != NEVER
    return np.where(reachable, np.where(reachable, fixed.value, 0) - follows.value, fixed.points)


def _doubled(curve: Curve, middle: Times) -> NDArray[np.float64]:
    never = curve.value == NEVER
    doubled = 2.0 * np.where(never, 0, curve.value) + np.where(curve.fixed, 0, middle)
    return np.where(never, np.inf, doubled)


def soonest(curve: Curve) -> int:
    """Return how long after its onset the instant comes at the soonest, in milliseconds; ``NEVER``: it never does."""
    told, there = curve.value != NEVER, curve.there != NEVER
    inside = np.where(curve.fixed, curve.value - curve.stops(), curve.value)[told]
    instants: list[int] = (curve.there - curve.points)[there].tolist()
    return min([NEVER, *map(int, inside.tolist()), *instants])


def through(curve: Curve, tell: Callable[[Times], Times], edges: Times) -> Curve:
    """Return the curve of ``tell`` of each instant.

    ``tell`` is exact, never falls, and is on each side of its ``edges`` either a fixed instant or the given one plus
    a constant.
    """
    cuts = [edges - shift for shift in np.unique(curve.value[~curve.fixed]).tolist()]
    cut = curve.cut(np.unique(np.concatenate(cuts))) if cuts else curve

    def told(onsets: Times) -> Times:
        instants = cut.at(onsets)
        never = instants == NEVER
        return np.where(never, NEVER, tell(np.where(never, 0, instants)))

    return work_out(told, cut.points, (int(cut.points[0]), cut.end))


@dataclass(frozen=True, slots=True)
class Summary:
    """Notice time over some onsets, in seconds, limits included; None: never.

    ``attained``: the worst is reached at ``worst_onset``, else it is the limit just after it. ``share_never`` and
    ``share_within`` are shares of the time of onset, ``within`` the deadline.
    """

    least_s: float | None
    worst_s: float | None
    attained: bool
    mean_s: float | None
    share_never: float
    share_within: float
    worst_onset: int


def summary(curve: Curve, deadline: Callable[[Times], Times]) -> Summary:
    """Sum a curve up. ``deadline`` gives the deadline in milliseconds at each onset, constant within each cell."""
    points, stops = curve.points, curve.stops()
    length = (stops - points).astype(np.float64)
    never = curve.value == NEVER
    at_left = np.where(curve.fixed, np.where(never, 0, curve.value) - points, curve.value).astype(np.float64)
    at_right = np.where(curve.fixed, at_left - length, at_left)
    at_left[never] = at_right[never] = np.inf
    reached = np.where(curve.there == NEVER, np.inf, curve.there - points.astype(np.float64))
    highest_limit, highest_there = float(at_left.max()), float(reached.max())
    worst = max(highest_limit, highest_there)
    flat = ~curve.fixed | never
    attained_inside = bool((flat & (at_left == worst)).any())
    attained = highest_there == worst or attained_inside
    if highest_there == worst:
        onset = int(points[np.argmax(reached == worst)])
    elif attained_inside:
        onset = int(points[np.argmax(flat & (at_left == worst))]) + 1
    else:
        onset = int(points[np.argmax(at_left == worst)])
    total = float(length.sum())
    limit = deadline(np.minimum(points + 1, stops - 1)).astype(np.float64)
    late = np.clip(at_left - limit, 0, length)
    within = np.where(curve.fixed & ~never, length - late, np.where(at_left <= limit, length, 0.0))
    return Summary(
        least_s=_seconds(min(float(at_right.min()), float(reached.min()))),
        worst_s=_seconds(worst),
        attained=attained,
        mean_s=None if never.any() else float((length * (at_left + at_right) / 2).sum()) / total / 1000,
        share_never=float(length[never].sum()) / total,
        share_within=float(within.sum()) / total,
        worst_onset=onset,
    )


def _seconds(milliseconds: float) -> float | None:
    return None if np.isinf(milliseconds) else milliseconds / 1000


def joined_summary(pieces: Sequence[Curve], deadline: Callable[[Times], Times]) -> Summary:
    """Sum several stretches of one curve up as one."""
    parts = [summary(piece, deadline) for piece in pieces]
    lengths = [piece.end - int(piece.points[0]) for piece in pieces]
    total = sum(lengths)
    worst = max(parts, key=badness)
    least = [part.least_s for part in parts if part.least_s is not None]
    means = [part.mean_s for part in parts]
    known = [mean for mean in means if mean is not None]
    whole = len(known) == len(means)
    return Summary(
        min(least) if least else None,
        worst.worst_s,
        worst.attained,
        sum(mean * length for mean, length in zip(known, lengths, strict=True)) / total if whole else None,
        sum(part.share_never * length for part, length in zip(parts, lengths, strict=True)) / total,
        sum(part.share_within * length for part, length in zip(parts, lengths, strict=True)) / total,
        worst.worst_onset,
    )


def badness(summed: Summary) -> tuple[float, float]:
    """Return what orders summaries from good to bad."""
    return (np.inf if summed.worst_s is None else summed.worst_s, -summed.share_within)
