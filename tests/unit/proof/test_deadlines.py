"""Which onsets come too late, by hand: a limit of 3 h that is looked at from 07:00 to 22:00 only.

Silent from 19:00 on it waits for 07:00: 12 h at 19:00, falling to 3 h at 04:00; else 3 h. Telling takes 1 ms.
"""

import numpy as np
import pytest
from tests.smallest import alarm, plan_of

from stillwell.proof import deadlines
from stillwell.proof.prove import prove

H = 3_600_000
MONDAY = 1767571200000  # 2026-01-05 00:00 in London
LIFE = {"parts": {"hall": {"kind": "movement"}}, "signals": {"sign_of_life": "hall.movement"}}


def result(day, night, **tables):
    hazard = {"name": "collapse", "kind": "collapse", "deadline": {"day": day, "night": night}}
    rule = alarm("no sign_of_life for 3h", **{"while": "between 07:00 and 22:00"})
    plan = plan_of(**LIFE, **({"hazard": [hazard], "alarm": [rule]} | tables))
    found = prove(plan, 2026, faults=()).hazards[0]
    return found, deadlines.deadlines(plan, found)


def hours(spans):
    return [((start - MONDAY) / H, (end - MONDAY) / H) for start, end in spans]


@pytest.mark.parametrize(
    ("day", "night", "late"),
    [
        ("12h", "12h", []),  # but for the millisecond of telling, in onsets shorter than that
        ("10h", "10h", [(19, 21)]),  # at 21:00 it is 10 h
        ("4h", "10h", [(19, 22)]),  # by day too late up to 22:00, from then on the night's deadline counts
        ("2h", "3h1s", [(7, 22), (22, 28 - 1 / 3600)]),
    ],
)
def test_late_onsets_are_cut_where_the_deadline_is_met(day, night, late):
    found, limit = result(day, night)
    spans = hours(deadlines.late(found, limit))
    monday = [(start, min(end, 31)) for start, end in spans if 7 <= start < 31 and end - start > 1e-4]
    joined = [(late[0][0], late[-1][1])] if late else []
    assert [one for one in monday if one[0] < 24] == [pytest.approx(one, abs=1e-6) for one in joined]


def test_the_deadline_is_that_of_the_hour():
    found, limit = result("4h", "10h")
    onsets = np.array([6 * H, 7 * H - 1, 7 * H, 22 * H - 1, 22 * H]) + MONDAY
    assert found.told.points[0] == MONDAY
    assert (limit.at(onsets) / H).tolist() == [10, 10, 4, 4, 10]


def test_never_goes_over_the_turn_of_the_week():
    rule = alarm("sign_of_life without sign_of_life within 3h", **{"while": "between 07:00 and 22:00"})
    found, limit = result("4h", "4h", alarm=[rule])
    spans = hours(deadlines.never(found, limit))
    # 3 h after the onset it must be between 07:00 and 22:00: not from 19:00 to 04:00
    assert spans[-1] == pytest.approx((6 * 24 + 19, 7 * 24 + 4), abs=1e-6)
    assert spans[0] == pytest.approx((19, 28), abs=1e-6)
    assert deadlines.worst(found, limit) == deadlines.never(found, limit)


def test_onsets_that_are_as_bad_come_every_day():
    found, _ = result("4h", "4h")
    assert found.worst is not None
    assert [(onset - MONDAY) / H for onset in deadlines.as_bad(found, MONDAY + 19 * H)] == [
        24 * day + 19 for day in range(7)
    ]
