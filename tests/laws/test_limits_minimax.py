"""No limits that adapt beat a fixed one on the longest delay, at equal budget of false alarms (docs/limits.md).

The worst silence begins right after a sign of life, so the longest delay of a table is its longest limit in use. Let L*
be the shortest fixed limit that keeps to a budget on some silences. A table all of whose limits are shorter is shorter
throughout than some fixed limit below L*, so it has at least that one's false alarms: more than the budget.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.unit.limits.lived import HOUR, MINUTE, at, record_of

from stillwell.limits.cleaning import clean
from stillwell.limits.realised import judge, signs_of_record, told_by
from stillwell.limits.table import LimitRow, LimitTable
from stillwell.plan.texts import EVERY_DAY

pytestmark = pytest.mark.base

PARTS = ("hall_pir", "bath_pir")
DAYS = 4
ROWS = st.lists(
    st.builds(
        lambda part, start, length, minutes: LimitRow(
            (part,), start * 60, min(24, start + length) * 60, EVERY_DAY, minutes * MINUTE
        ),
        st.sampled_from(PARTS),
        st.integers(0, 23),
        st.integers(1, 24),
        st.integers(1, 600),
    ),
    max_size=6,
)
TABLES = st.builds(lambda rows, minutes: LimitTable(tuple(rows), minutes * MINUTE), ROWS, st.integers(1, 600))
SIGNS = st.lists(st.tuples(st.sampled_from(PARTS), st.integers(0, DAYS * 24 * 60 - 1)), min_size=2, max_size=60)


def signs_of(drawn):
    """Signs of two parts over four days; midnights have one too, so that each day is lived."""
    times = {part: [at(0) + minute * MINUTE for name, minute in drawn if name == part] for part in PARTS}
    times["hall_pir"] += [at(day) for day in range(DAYS)]
    record = record_of({f"{part}.movement": found for part, found in times.items()}, (at(0), at(DAYS)))
    names = list(record.signals)
    return signs_of_record(clean(record, names), names)


def false_alarms(signs, limits):
    return judge(signs, told_by(limits, signs), range(len(signs.days))).false.count


def shortest_fixed(signs, budget):
    """The shortest fixed limit (ms) with at most so many false alarms: just as long as one of the silences."""
    lengths = np.unique(np.append(0, (signs.ends - signs.times)[signs.day >= 0]))
    return next(int(length) for length in lengths if false_alarms(signs, LimitTable((), int(length))) <= budget)


@given(SIGNS, TABLES, st.integers(0, 5))
def test_a_table_within_the_budget_has_a_limit_as_long_as_the_fixed_one(drawn, table, budget):
    signs = signs_of(drawn)
    used = table.limits(signs.parts, signs.part, signs.local)[signs.day >= 0]
    if false_alarms(signs, table) <= budget:
        assert used.max(initial=0) >= shortest_fixed(signs, budget)


@given(SIGNS, TABLES)
def test_shorter_limits_never_have_fewer_false_alarms(drawn, table):
    signs = signs_of(drawn)
    longest = int(table.limits(signs.parts, signs.part, signs.local).max())
    assert false_alarms(signs, table) >= false_alarms(signs, LimitTable((), longest))


def test_what_adapts_buys_a_shorter_median_with_no_longer_maximum_at_best():
    # a sign every quarter of an hour from 06:30 to 21:45, one at 22:00 and one at midnight: two hours, six and a half
    drawn = [("hall_pir", day * 1440 + minute) for day in range(DAYS) for minute in range(6 * 60 + 30, 22 * 60, 15)]
    drawn += [("bath_pir", day * 1440 + 22 * 60) for day in range(DAYS)]
    signs = signs_of(drawn)
    fixed_ms = shortest_fixed(signs, 0)
    assert fixed_ms == 6 * HOUR + 30 * MINUTE
    rows = (
        LimitRow(("hall_pir",), 0, 60, EVERY_DAY, fixed_ms),
        LimitRow(("hall_pir",), 60, 1440, EVERY_DAY, 15 * MINUTE),
        LimitRow(("bath_pir",), 0, 1440, EVERY_DAY, 2 * HOUR),
    )
    adapted, fixed = LimitTable(rows, fixed_ms), LimitTable((), fixed_ms)
    assert false_alarms(signs, adapted) == false_alarms(signs, fixed) == 0
    one, other = (judge(signs, told_by(each, signs), range(DAYS)).whole for each in (adapted, fixed))
    assert one.max == other.max == fixed_ms / 1000
    assert one.median < 15 * 60 < other.median
