"""Notice time over every onset instant, integrated exactly.

The notice time is known as *pieces*: stretches of onset instants that all lead to one instant of being told. On a
piece it falls with slope -1, so that its values are spread evenly between the ends; no sampling is needed.
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillwell.record.columns import Times

NEVER_MS = np.iinfo(np.int64).max


@dataclass(frozen=True, slots=True)
class Pieces:
    """Onsets in [start, end) and when somebody is told of each (``NEVER_MS``: never).

    ``standing`` marks pieces on which an alarm stands already: their notice time is 0. All arrays have one length;
    times are milliseconds UTC.
    """

    start: Times
    end: Times
    told: Times
    standing: NDArray[np.bool_]

    def pick(self, keep: NDArray[np.bool_] | NDArray[np.intp]) -> "Pieces":
        """Return some of the pieces."""
        return Pieces(self.start[keep], self.end[keep], self.told[keep], self.standing[keep])

    def within(self, spans: Iterable[tuple[int, int]]) -> "Pieces":
        """Return the parts of the pieces that lie in sorted, disjoint spans."""
        edges = np.array(list(spans), np.int64).reshape(-1, 2)
        cuts = np.unique(edges)
        whole = self.cut(cuts)
        if not len(edges):
            return whole.pick(np.zeros(len(whole.start), bool))
        span = np.searchsorted(edges[:, 0], whole.start, "right") - 1
        return whole.pick((span >= 0) & (whole.start < edges[span, 1]))

    def cut(self, cuts: Times) -> "Pieces":
        """Cut the pieces at the given instants."""
        first = np.searchsorted(cuts, self.start, "right")
        counts = np.maximum(np.searchsorted(cuts, self.end, "left") - first, 0)
        index = np.repeat(np.arange(len(self.start)), counts + 1)
        place = np.arange(len(index)) - np.repeat(np.cumsum(counts + 1) - counts - 1, counts + 1)
        padded = np.append(cuts, NEVER_MS)
        starts = np.where(place == 0, self.start[index], padded[first[index] + place - 1])
        ends = np.where(place == counts[index], self.end[index], padded[np.minimum(first[index] + place, len(cuts))])
        return Pieces(starts, ends, self.told[index], self.standing[index])


@dataclass(frozen=True, slots=True)
class Spread:
    """The distribution of notice time in seconds; None where somebody is told never (of at least so large a share).

    ``weight_s`` is the time over which onsets were counted, ``standing_share`` the share that met a standing alarm.
    """

    median: float | None
    p95: float | None
    max: float | None
    mean: float | None
    never_share: float
    standing_share: float
    weight_s: float


def spread(pieces: Pieces) -> Spread:
    """Return the exact distribution over the onsets of some pieces."""
    length = (pieces.end - pieces.start).astype(np.float64)
    total = float(length.sum())
    if total <= 0:
        return Spread(None, None, None, None, 0.0, 0.0, 0.0)
    never = (pieces.told == NEVER_MS) & ~pieces.standing
    least, most = _bounds(pieces.pick(~never))
    counted = length[~never]
    never_share = float(length[never].sum()) / total
    standing_share = float(length[pieces.standing].sum()) / total
    longest = float(most.max()) / 1000 if never_share == 0 and len(most) else None
    mean = float((counted * (least + most) / 2).sum()) / total / 1000 if never_share == 0 else None
    return Spread(
        _quantile(least, most, counted, 0.5, total),
        _quantile(least, most, counted, 0.95, total),
        longest,
        mean,
        never_share,
        standing_share,
        total / 1000,
    )


def _bounds(pieces: Pieces) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    least = np.where(pieces.standing, 0, pieces.told - pieces.end).astype(np.float64)
    most = np.where(pieces.standing, 0, pieces.told - pieces.start).astype(np.float64)
    return least, most


def _quantile(
    least: NDArray[np.float64], most: NDArray[np.float64], length: NDArray[np.float64], share: float, total: float
) -> float | None:
    """Return the notice time in seconds that ``share`` of the onsets does not exceed.

    The distribution function is a sum of ramps (one a piece, of slope 1) and jumps (standing alarms).
    """
    wanted = share * total
    if length.sum() < wanted * (1 - 1e-12):
        return None
    jump = most == least
    at_once = float(length[jump].sum())
    if wanted <= at_once:
        return 0.0
    edges = np.concatenate([least[~jump], most[~jump]])
    slopes = np.concatenate([np.ones(int((~jump).sum())), -np.ones(int((~jump).sum()))])
    order = np.argsort(edges, kind="stable")
    edges, slope = edges[order], np.cumsum(slopes[order])
    reached = at_once + np.append(0.0, np.cumsum(np.diff(edges) * slope[:-1]))
    found = min(int(np.searchsorted(reached, wanted, "left")), len(edges) - 1)
    if found == 0:
        return float(edges[0]) / 1000
    rise = slope[found - 1]
    back = 0.0 if rise <= 0 else max(0.0, (reached[found] - wanted) / rise)
    return float(edges[found] - back) / 1000
