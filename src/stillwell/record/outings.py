"""When the home was probably empty for a while, read from its outside doors."""

from collections.abc import Collection
from typing import Final

import numpy as np

from stillwell.record.columns import Times

OUT_LEAST_MS: Final = 600_000


def outings(doors: Times, life: Times, least_ms: int = OUT_LEAST_MS) -> list[tuple[int, int]]:
    """Return the stretches between two sorted moves of an outside door without any sign of life in between.

    That is how going out looks, and so does somebody who lies still behind the door: it is a reading of the record,
    and no rule may take it for more.
    """
    moves = np.unique(doors)
    pauses = np.flatnonzero(np.diff(moves) >= least_ms)
    inside = np.searchsorted(life, moves[pauses + 1], "left") > np.searchsorted(life, moves[pauses], "right")
    found = pauses[~inside]
    return list(zip(moves[found].tolist(), moves[found + 1].tolist(), strict=True))


def longest_quiet(life: Times, start_ms: int, end_ms: int, out: Collection[int] = ()) -> tuple[int, int]:
    """Return the longest stretch of [start, end) between signs of life, or its ends, that is no outing.

    ``out`` are the instants at which outings begin. Where there is nothing else, an outing is returned, cut to nothing.
    """
    inside = life[(life > start_ms) & (life < end_ms)]
    edges = np.concatenate([np.array([start_ms], np.int64), inside, np.array([end_ms], np.int64)])
    lengths = np.where(np.isin(edges[:-1], np.array(list(out), np.int64)), 0, np.diff(edges))
    at = int(lengths.argmax())
    return int(edges[at]), int(edges[at] + lengths[at])
