"""Notice times with a table of limits, derived by hand; common practice, no source. Telling takes no time here.

The last sign s may have come at the onset or before it, in any room; the alarm comes at s + L(s). So for an onset t0
the worst is the greatest s + L(s) over s up to t0: s = t0, or s in the last millisecond of a band that ended before.
Below, that millisecond is left out of the sums.
"""

import numpy as np
import pytest
from tests.smallest import alarm, plan_of

from stillwell.proof.last_signs import Last
from stillwell.proof.prove import Prover, prove

pytestmark = pytest.mark.base

PARTS = {
    "kitchen_pir": {"kind": "movement", "room": "kitchen"},
    "bed_pir": {"kind": "movement", "room": "bedroom"},
    "front": {"kind": "contact", "opening": "door"},
}
PLACE = {
    "rooms": {name: {"outline": [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0]]} for name in ("kitchen", "bedroom", "hall")},
    "openings": {"door": {"kind": "door", "rooms": ["hall", "outside"]}},
    "parts": PARTS,
    "signals": {"sign_of_life": "kitchen_pir.movement or bed_pir.movement"},
}
WHEN = "no sign_of_life for limit quiet"
H = 3600.0


def plan(longest, *rows, **keys):
    tables = {"alarm": [alarm(WHEN, **keys)], "limits": {"quiet": {"longest": longest, "rows": list(rows)}}}
    return plan_of(**(PLACE | tables))


def proved(longest, *rows, **keys):
    return prove(plan(longest, *rows, **keys), 2026).hazards[0]


def hours(seconds):
    return None if seconds is None else round(seconds / H, 4)


def summed(summary):
    return hours(summary.least_s), hours(summary.worst_s), summary.attained, hours(summary.mean_s)


def test_a_limit_by_day_and_a_longer_one_by_night():
    # By night (22:00 to 07:00) 8 h. A last sign just before 07:00 tells just before 15:00, later than any from 07:00
    # on until 12:00: from 07:00 it falls from 8 h to 3 h, and stays there until 22:00.
    # 9 x 8 + 5 x 5.5 + 10 x 3 = 129.5 over 24 h. Limits run on elapsed time: so in the weeks of clock changes too.
    result = proved("8h", {"from": "07:00", "to": "22:00", "limit": "3h"})
    assert summed(result.normal) == (3.0, 8.0, True, round(129.5 / 24, 4))
    assert [hours(week.worst_s) for week in result.clock_changes] == [8.0, 8.0]


def test_rooms_with_limits_of_their_own():
    # Nobody knows in which room she lay down: by night it is the bedroom's 9 h. Just before 07:00 in the bedroom tells
    # just before 16:00: from 07:00 to 12:00 it falls from 9 h to 4 h, the bedroom's limit by day.
    # 9 x 9 + 5 x 6.5 + 10 x 4 = 153.5 over 24 h.
    rows = (
        {"room": "kitchen", "limit": "2h"},
        {"room": "bedroom", "from": "22:00", "to": "07:00", "limit": "9h"},
        {"limit": "4h"},
    )
    result = proved("9h", *rows)
    assert summed(result.normal) == (4.0, 9.0, True, round(153.5 / 24, 4))
    assert result.unsettled == ()


def test_a_part_that_has_long_been_silent_is_not_the_last_to_speak():
    # With the bedroom's detector lost the kitchen gave the last sign: 2 h. But it may have spoken last and gone then.
    home = plan("9h", {"room": "kitchen", "limit": "2h"})
    prover = Prover(home, prove(home, 2026, faults=()).program, 2026)
    alarms = [rule for rule in prover.program.alarms if not rule.of_part]
    stage = prover.stage(alarms, ())
    week = np.array(prover.week)
    everyone, but_one = (stage.choices(Last(silent=frozenset(silent)), week) for silent in ((), ("bed_pir",)))
    (due,) = everyone.nodes
    assert (everyone.due(due, 0)[1], but_one.due(due, 0)[1]) == ({9 * 3_600_000}, {2 * 3_600_000})
    faults = {str(one.fault): hours(one.summary.worst_s) for one in prove(home, 2026).hazards[0].faults}
    assert faults["bed_pir lost"] == 9.0
    assert faults["bed_pir stuck"] is None  # it may go on and on


def test_a_late_part_may_hold_the_alarm_off_for_as_long_as_it_is_late():
    # Its reports come in for ten minutes after the onset (docs/proof.md); then its own limit runs, or that of 22:00.
    result = proved("8h", {"from": "07:00", "to": "22:00", "limit": "3h"})
    late = next(one for one in result.faults if str(one.fault) == "bed_pir late")
    assert hours(late.summary.worst_s) == round(8 + 1 / 6, 4)
    # by day 3 h 10 min; the fall begins ten minutes before 07:00 and ends at 11:50
    assert hours(late.summary.least_s) == round(3 + 1 / 6, 4)


def test_weekdays_end_at_midnight():
    # 6 h at weekends, 2 h on weekdays. Sunday just before midnight tells just before 06:00 on Monday: from 00:00 to
    # 04:00 it falls from 6 h to 2 h. 48 x 6 + 4 x 4 + 116 x 2 = 536 over 168 h.
    result = proved("6h", {"days": "weekdays", "limit": "2h"})
    assert summed(result.normal) == (2.0, 6.0, True, round(536 / 168, 4))


def test_a_table_that_is_looked_at_by_day_only():
    # Signs from 20:00 to 08:00: 10 h, else 4 h; asked from 08:00 to 20:00. From 22:00 on: 10 h later. From 08:00 the
    # sign just before it tells just before 18:00: from 10 h down to 4 h at 14:00; until 16:00 4 h. From 16:00 on it
    # falls due at 20:00 or later and waits for 08:00: 16 h, falling to 10 h at 22:00.
    # 10 x 10 + 6 x 7 + 2 x 4 + 6 x 13 = 228 over 24 h; an hour more in the night the clocks go back.
    result = proved("10h", {"from": "08:00", "to": "20:00", "limit": "4h"}, **{"while": "between 08:00 and 20:00"})
    assert summed(result.normal) == (4.0, 16.0, True, 9.5)
    assert sorted(hours(week.worst_s) for week in result.clock_changes) == [16.0, 17.0]


def test_a_door_that_moved_before_the_last_sign():
    # Whether the door moved within 15 min before the last sign nobody knows: the longer limit may be the one that runs.
    result = proved("6h", {"after_door": "15min", "limit": "6h"}, {"limit": "3h"})
    assert summed(result.normal) == (6.0, 6.0, True, 6.0)
    assert result.unsettled == ()
    # shorter after a door: the other one may run
    assert summed(proved("6h", {"after_door": "15min", "limit": "1h"}).normal) == (6.0, 6.0, True, 6.0)


def test_two_tables_of_which_the_first_to_tell_counts():
    # By day (07:00 to 22:00) 3 h and 4 h, by night 8 h and 5 h. By night 5 h. From 07:00 on a sign just before it tells
    # just before 12:00, the other table just before 15:00; a sign at the onset t0 tells at t0 + 3 h, the other at t0 +
    # 4 h: from 08:00 on it is the later one for one table only, and tells later from 09:00 on. So it falls from 5 h at
    # 07:00 to 3 h at 09:00, and stays there until 22:00. 9 x 5 + 2 x 4 + 13 x 3 = 92 over 24 h.
    day = {"from": "07:00", "to": "22:00"}
    home = PLACE | {
        "limits": {
            "quiet": {"longest": "8h", "rows": [day | {"limit": "3h"}]},
            "far": {"longest": "5h", "rows": [day | {"limit": "4h"}]},
        },
        "alarm": [alarm(WHEN), alarm("no sign_of_life for limit far", name="far")],
    }
    result = prove(plan_of(**home), 2026, faults=()).hazards[0]
    assert summed(result.normal) == (3.0, 5.0, True, round(92 / 24, 4))


def test_the_hour_that_comes_twice():
    # 25 October 2026, London: 01:30 comes twice. The band from 01:30 begins with the first, the one up to 01:30 ends
    # with the second, and the first row that fits counts: 5 h until the second 01:30. So 5 h and 2 h as on other days,
    # and the fall from 5 h to 2 h takes 3 h after that.
    rows = ({"from": "20:00", "to": "01:30", "limit": "5h"}, {"from": "01:30", "to": "20:00", "limit": "2h"})
    result = proved("5h", *rows)
    spring, autumn = result.clock_changes
    assert summed(result.normal) == (2.0, 5.0, True, round((5.5 * 5 + 3 * 3.5 + 15.5 * 2) / 24, 4))
    whole = 7 * (5.5 * 5 + 3 * 3.5 + 15.5 * 2)
    assert hours(autumn.mean_s) == round((whole + 5) / 169, 4)
    # 29 March: 01:30 is skipped, the band ends half an hour of elapsed time sooner, at 01:00
    assert hours(spring.mean_s) == round((whole - 0.5 * 5 - 0.5 * 2) / 167, 4)
