"""Stretches of time as arrays, and the level reports they give."""

from collections.abc import Iterable
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from stillwell.record.columns import FALSE, TRUE, Steps, Times

Spans: TypeAlias = NDArray[np.int64]
"""Half-open spans in time order, shape (count, 2), milliseconds UTC."""


def spans_of(pairs: Iterable[tuple[int, int]]) -> Spans:
    """Sort pairs of instants and join those that overlap or touch."""
    drawn = sorted(pair for pair in pairs if pair[0] < pair[1])
    return joined(np.array(drawn, np.int64).reshape(-1, 2))


def joined(spans: Spans) -> Spans:
    """Join those of the spans (in any order) that overlap or touch."""
    if not spans.size:
        return spans.reshape(-1, 2)
    ordered = spans[np.argsort(spans[:, 0], kind="stable")]
    reach = np.maximum.accumulate(ordered[:, 1])
    first = np.flatnonzero(np.r_[True, ordered[1:, 0] > reach[:-1]])
    return np.column_stack([ordered[first, 0], reach[np.r_[first[1:] - 1, len(ordered) - 1]]])


def contains(spans: Spans, times: Times) -> NDArray[np.bool_]:
    """Tell for each instant whether it lies in one of the disjoint spans."""
    index = np.searchsorted(spans[:, 0], times, side="right") - 1
    inside: NDArray[np.bool_] = (index >= 0) & (times < np.r_[spans[:, 1], 0][index])
    return inside


def clipped(spans: Spans, start_ms: int, end_ms: int) -> Spans:
    """Cut the spans to a window."""
    cut = np.clip(spans, start_ms, end_ms)
    return cut[cut[:, 0] < cut[:, 1]]


def level(spans: Spans, first_ms: int) -> Steps:
    """Report at ``first_ms`` how things stand, and from then on each change; true within the spans."""
    standing = bool(contains(spans, np.array([first_ms]))[0])
    edges = spans.ravel()
    values = np.tile(np.array([TRUE, FALSE], np.int8), len(spans))
    later = edges > first_ms
    return Steps(np.r_[first_ms, edges[later]], np.r_[np.int8(TRUE if standing else FALSE), values[later]])
