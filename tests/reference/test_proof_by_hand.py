"""Notice times derived by hand; common practice, no source. Telling takes no time here.

The home tells its one responder in the instant the alarm is raised (1 ms is taken off by ``REACHED_AFTER_MS``).
"""

import pytest
from tests.smallest import REACHED_AFTER_MS, alarm, plan_of

from stillwell.proof.prove import prove

pytestmark = pytest.mark.base

LIFE = {"parts": {"hall": {"kind": "movement"}}, "signals": {"sign_of_life": "hall.movement"}}
H = 3600.0


def proved(*alarms, **tables):
    return prove(plan_of(**(LIFE | {"alarm": list(alarms)} | tables)), 2026).hazards[0]


def hours(seconds):
    return None if seconds is None else round(seconds / H, 4)


def summed(summary):
    return hours(summary.least_s), hours(summary.worst_s), summary.attained, hours(summary.mean_s)


def test_the_daily_look_at_08_00_for_12_h():
    # Silent from 20:00: 08:00 the next morning, 12 h. From just after 20:00: the morning after that, towards 36 h.
    # In between it falls evenly, so 24 h in the mean. In the night the clocks go back 37 h of elapsed time.
    result = proved(alarm("at 08:00 and no sign_of_life for 12h"))
    assert summed(result.normal) == (12.0, 36.0, False, 24.0)
    assert sorted(hours(week.worst_s) for week in result.clock_changes) == [36.0, 37.0]
    assert REACHED_AFTER_MS < 2


def test_a_limit_that_is_looked_at_by_day_only():
    # 3 h after the last movement where that falls from 07:00 to 22:00: silent from 04:00 to 19:00. Silent from
    # 19:00 on the limit runs out at 22:00 or later and waits for 07:00: 12 h, one more when the clocks go back.
    # 15 of 24 h tell after 3 h, 9 h after (12 + 3)/2 h in the mean: 3 x 15/24 + 7.5 x 9/24.
    result = proved(alarm("no sign_of_life for 3h", **{"while": "between 07:00 and 22:00"}))
    assert summed(result.normal) == (3.0, 12.0, True, 4.6875)
    assert sorted(hours(week.worst_s) for week in result.clock_changes) == [12.0, 13.0]


def test_a_limit_by_day_beside_one_by_night():
    # By day 3 h; from 19:00 on 07:00 comes 9 h later or sooner only from 22:00 on, before that the 9 h limit tells.
    # 15 h at 3 h, 3 h at 9 h, 6 h falling from 9 to 3: (45 + 27 + 36)/24 = 4.5.
    result = proved(
        alarm("no sign_of_life for 3h", **{"while": "between 07:00 and 22:00"}),
        alarm("no sign_of_life for 9h"),
    )
    assert summed(result.normal) == (3.0, 9.0, True, 4.5)


def test_a_limit_guarded_by_a_state_that_two_clock_rules_set():
    # The same as a window from 07:00 to 22:00: the state is on exactly then.
    result = proved(
        alarm("no sign_of_life for 3h", **{"while": "watching is on"}),
        states={"watching": {"values": ["off", "on"], "initial": "off"}},
        aid=[
            {"name": "begin", "when": "at 07:00", "do": ["set watching to on"]},
            {"name": "end", "when": "at 22:00", "do": ["set watching to off"]},
        ],
    )
    assert summed(result.normal) == (3.0, 12.0, True, 4.6875)
    assert not result.otherwise


def test_a_responder_who_cannot_be_reached_at_night():
    # Raised after 3 h at any hour, but Ben notices between 07:00 and 22:00 only: as looked at by day only.
    ben = {"name": "Ben", "channels": {"text": "1ms"}, "reachable": "between 07:00 and 22:00"}
    result = proved(alarm("no sign_of_life for 3h"), people={"ben": ben})
    assert summed(result.normal)[:2] == (3.0, 12.0)


def test_what_a_person_must_remember_is_kept_apart():
    result = proved(
        alarm("no sign_of_life for 3h", **{"while": "holiday is off"}),
        states={"holiday": {"values": ["off", "on"], "initial": "off", "set_by": "resident"}},
    )
    assert hours(result.normal.worst_s) == 3.0
    assert [summary.worst_s for summary in result.otherwise.values()] == [None]


def test_gone_out_taken_from_a_door_hides_a_fall_beside_it():
    # The door shuts, nobody moves in the hall for 10 min: taken for gone out. A fall there is never told.
    tables = {
        "parts": {"hall": {"kind": "movement"}, "door": {"kind": "contact"}},
        "signals": {"sign_of_life": "hall.movement or door.opened"},
        "states": {"away": {"values": ["off", "on"], "initial": "off"}},
        "aid": [
            {"name": "gone", "when": "door.closed without hall.movement within 10min", "do": ["set away to on"]},
            {"name": "back", "when": "sign_of_life", "do": ["set away to off"]},
        ],
    }
    assert proved(alarm("no sign_of_life for 3h", **{"while": "away is off"}), **tables).normal.worst_s is None
    assert hours(proved(alarm("no sign_of_life for 3h"), **tables).normal.worst_s) == 3.0


def test_faults_of_the_only_detector_and_of_the_only_responder():
    tables = {"parts": {"hall": {"kind": "movement", "supervision": "2h"}}, "upkeep": {"call": "family"}}
    result = proved(alarm("no sign_of_life for 3h"), **tables)
    faults = {str(one.fault): (hours(one.summary.worst_s), hours(one.told_blind_s)) for one in result.faults}
    assert faults["hall stuck"] == (None, None)
    assert faults["hall late"] == (round(3 + 1 / 6, 4), None)
    assert faults["ben unreachable"] == (None, None)
    assert faults["hall lost"][1] == 2.0


def gone_out(when, fault):
    plan = plan_of(
        parts={"hall": {"kind": "movement", "room": "hall"}, "front": {"kind": "contact", "opening": "front_door"}},
        openings={"front_door": {"kind": "door", "rooms": ["hall", "outside"]}},
        signals={"sign_of_life": "hall.movement"},
        rooms={"hall": {"outline": [[0, 0], [3, 0], [3, 3], [0, 3]]}},
        hazard=[{"name": "out", "kind": "wandering", "deadline": {"day": "1h", "night": "1h"}}],
        alarm=[alarm(when, hazard="out")],
    )
    result = prove(plan, 2026).hazards[0]
    (late,) = (one for one in result.faults if str(one.fault) == fault)
    return hours(result.normal.worst_s), hours(late.summary.worst_s)


@pytest.mark.parametrize("minutes", [3, 9])
def test_what_a_late_detector_saw_before_the_door_opened_comes_in_after_it(minutes):
    """The door opens at t0, and nobody is in the hall from then on. What the detector there reports is 10 min late.

    Nothing late: no movement in (t0, t0 + 3 min], told at t0 + 3 min. Late: a movement at t0 - 8 min comes in at
    t0 + 2 min, within the 3 min, and nobody is ever told. The same with 9 min.
    """
    assert gone_out(f"front.opened without hall.movement within {minutes}min", "hall late") == (minutes / 60, None)
