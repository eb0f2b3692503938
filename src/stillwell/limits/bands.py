"""Limits around the clock in few bands, so that a person can read the table and change it."""

from collections.abc import Sequence
from typing import Final

from stillwell.limits.survival import HOUR_MS

BAND_COSTS: Final = 0.07
"""What one more row must save, in hours of delay times hours of silent time a day. No outside source: on the long
record it makes a hundred rows of three hundred and forty."""


def banded(limits: Sequence[int], silent_h: Sequence[float], band_costs: float = BAND_COSTS) -> list[int]:
    """Return limits (ms, one for each slot from midnight on) that are constant over bands, the longest in each.

    So no limit is shorter than it was, and no false alarm is added. ``silent_h`` is the silent time a day after signs
    in each slot: where it is long a rounded-up limit costs most. Of all ways to cut the day the cheapest is taken
    (dynamic programming over the ends of bands).
    """
    count = len(limits)
    best, start = [0.0, *[float("inf")] * count], [0] * (count + 1)
    for end in range(1, count + 1):
        longest, weight, held = 0, 0.0, 0.0
        for begin in range(end - 1, -1, -1):
            longest = max(longest, limits[begin])
            weight += silent_h[begin]
            held += silent_h[begin] * limits[begin]
            added = band_costs + (longest * weight - held) / HOUR_MS
            if added >= best[end]:  # what is added only grows with the band
                break
            if best[begin] + added < best[end]:
                best[end], start[end] = best[begin] + added, begin
    found, end = list(limits), count
    while end:
        begin = start[end]
        found[begin:end] = [max(limits[begin:end])] * (end - begin)
        end = begin
    return found
