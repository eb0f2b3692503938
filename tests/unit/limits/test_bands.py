"""Limits around the clock in few bands."""

from itertools import combinations, pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stillwell.limits.bands import banded

pytestmark = pytest.mark.base

HOUR = 3_600_000


def cost(limits, bands, silent, band_costs):
    """What bands cost: one each, and the hours added to limits, weighed by silent hours."""
    cuts = sum(first != second for first, second in pairwise(bands)) + 1
    added = sum(weight * (band - limit) / HOUR for limit, band, weight in zip(limits, bands, silent, strict=True))
    return cuts * band_costs + added


def every_way(limits):
    """All ways to cut the day into bands, each with its longest limit."""
    count = len(limits)
    for number in range(count):
        for cuts in combinations(range(1, count), number):
            edges = [0, *cuts, count]
            yield [max(limits[a:b]) for a, b in pairwise(edges) for _ in range(b - a)]


@given(
    st.lists(st.tuples(st.integers(1, 8), st.floats(0, 2)), min_size=1, max_size=8),
    st.floats(0.01, 5),
)
def test_no_way_to_cut_the_day_is_cheaper(slots, band_costs):
    limits, silent = [hours * HOUR for hours, _ in slots], [weight for _, weight in slots]
    found = banded(limits, silent, band_costs)
    assert all(band >= limit for band, limit in zip(found, limits, strict=True))
    least = min(cost(limits, way, silent, band_costs) for way in every_way(limits))
    assert cost(limits, found, silent, band_costs) <= least + 1e-9


def test_bands_for_nothing_change_nothing():
    limits = [3 * HOUR, HOUR, 2 * HOUR, 2 * HOUR]
    assert banded(limits, [1.0] * 4, 0.0) == limits
