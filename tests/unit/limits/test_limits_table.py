"""The table of limits: the first row that fits the last sign counts."""

import numpy as np
import pytest

from stillwell.limits.table import DAY_MS, LimitRow, LimitTable, rows_of
from stillwell.plan.texts import EVERY_DAY

pytestmark = pytest.mark.base

HOUR = 3_600_000
PARTS = ("hall_pir", "bed_pir", "new_pir")
TABLE = LimitTable(
    (
        LimitRow(("hall_pir",), 0, 480, EVERY_DAY, 8 * HOUR),
        LimitRow(("hall_pir",), 480, 1440, frozenset((5, 6)), 3 * HOUR),
        LimitRow(("hall_pir",), 480, 1440, EVERY_DAY, 2 * HOUR),
        LimitRow((), 0, 720, EVERY_DAY, 20 * HOUR),
    ),
    12 * HOUR,
)


def limit(part, day, hour):
    """The limit in hours after a sign; day 0 is Thursday 1 January 1970."""
    local = np.array([day * DAY_MS + round(hour * HOUR)])
    return TABLE.limits(PARTS, np.array([PARTS.index(part)]), local)[0] / HOUR


@pytest.mark.parametrize(
    ("part", "day", "hour", "expected"),
    [
        ("hall_pir", 0, 7.99, 8),
        ("hall_pir", 0, 8, 2),
        ("hall_pir", 2, 8, 3),  # Saturday
        ("hall_pir", 3, 23.99, 3),  # Sunday
        ("hall_pir", 4, 23.99, 2),  # Monday
        ("bed_pir", 0, 3, 12),  # the row of any part, cut to the longest
        ("new_pir", 0, 12, 12),  # no row: the longest
    ],
)
def test_first_row_that_fits(part, day, hour, expected):
    assert limit(part, day, hour) == expected


def test_equal_neighbours_are_one_row():
    rows = list(rows_of(("hall_pir",), EVERY_DAY, [1, 1, 2, 2, 2, 1], 240))
    assert [(row.from_minute, row.until_minute, row.limit_ms) for row in rows] == [
        (0, 480, 1),
        (480, 1200, 2),
        (1200, 1440, 1),
    ]
