"""The family is never called before the resident is asked."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stillwell.limits.table import LimitRow, LimitTable
from stillwell.limits.together import not_before
from stillwell.plan.texts import EVERY_DAY

pytestmark = pytest.mark.base

HOUR = 3_600_000
PARTS = ("bedroom_pir", "hall_pir", "front_door")
GROUPS = st.sampled_from([("bedroom_pir",), ("hall_pir",), ("front_door",)])
ROWS = st.lists(
    st.builds(
        lambda parts, start, length, days, hours: LimitRow(
            parts, start * 30, min(48, start + length) * 30, days, hours
        ),
        GROUPS,
        st.integers(0, 47),
        st.integers(1, 48),
        st.sampled_from([EVERY_DAY, frozenset(range(5)), frozenset((5, 6)), frozenset(range(6)), frozenset((6,))]),
        st.integers(1, 24).map(lambda half: half * HOUR // 2),
    ),
    max_size=8,
)
TABLES = st.builds(lambda rows, hours: LimitTable(tuple(rows), hours * HOUR), ROWS, st.integers(6, 14))


def every_limit(table):
    """The limits of all parts in every half-hour of a week."""
    local = np.arange(4 * 24 * HOUR, 11 * 24 * HOUR, HOUR // 2, dtype=np.int64)
    return np.stack([table.limits(PARTS, np.full(len(local), part), local) for part in range(len(PARTS))])


@given(TABLES, TABLES)
def test_each_limit_is_the_longer_of_both(later, earlier):
    expected = np.maximum(every_limit(later), every_limit(earlier))
    assert np.array_equal(every_limit(not_before(later, earlier)), expected)


def test_a_table_that_is_never_sooner_stays_as_it_is():
    later = LimitTable((LimitRow(("hall_pir",), 0, 720, EVERY_DAY, 5 * HOUR),), 12 * HOUR)
    earlier = LimitTable((LimitRow(("hall_pir",), 0, 1440, EVERY_DAY, 4 * HOUR),), 12 * HOUR)
    expected = (
        LimitRow(("hall_pir",), 0, 720, EVERY_DAY, 5 * HOUR),
        LimitRow(("hall_pir",), 720, 1440, EVERY_DAY, 12 * HOUR),
    )
    assert not_before(later, earlier).rows == expected
