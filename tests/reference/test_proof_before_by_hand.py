"""Notice times that hang on what came just before the onset, or comes in late, derived by hand; no source.

The home tells its one responder ``REACHED_AFTER_MS`` after the alarm is raised.
"""

import numpy as np
import pytest
from tests.smallest import REACHED_AFTER_MS, alarm, plan_of

from stillwell.proof.prove import prove

pytestmark = pytest.mark.base

MINUTE, HOUR = 60_000, 3_600_000
MIDNIGHT = 1767571200000  # Monday 2026-01-05 00:00 in London
HOME = {
    "rooms": {"hall": {"outline": [[0, 0], [3, 0], [3, 3], [0, 3]]}},
    "openings": {"door": {"kind": "door", "rooms": ["hall", "outside"]}},
    "parts": {
        "hall": {"kind": "movement", "room": "hall"},
        "bed": {"kind": "movement"},
        "front": {"kind": "contact", "opening": "door"},
        "pendant": {"kind": "wearable call button"},
    },
    "signals": {"sign_of_life": "hall.movement or bed.movement"},
}


def proved(*alarms, **tables):
    return prove(plan_of(**(HOME | {"alarm": list(alarms)} | tables)), 2026).hazards[0]


def worst(summary):
    return None if summary.worst_s is None else round(summary.worst_s * 1000) - REACHED_AFTER_MS


def after(curve, onset):
    return int(curve.at(np.array([onset]))[0]) - onset - REACHED_AFTER_MS


def late(result, part):
    return next(one for one in result.faults if str(one.fault) == f"{part} late")


@pytest.mark.parametrize(
    ("when", "longest"),
    [
        ("pendant.pressed", None),  # who lies still presses nothing
        ("at 08:00", 24 * HOUR),
        ("between 22:00 and 07:00", 15 * HOUR + 30 * MINUTE),
    ],
)
def test_an_alarm_that_hears_nothing_of_the_resident(when, longest):
    # The third stands at 06:30, and would be asked about again at 07:00, when it is over: 22:00 is 15 h 30 min away.
    assert worst(proved(alarm(when)).normal) == longest


def test_an_alarm_that_stood_while_the_door_was_open():
    # Onset 07:50. The door shut: told at 08:00, after 10 min. Open, the last sign just then: after 12 min. Open, the
    # last sign long ago: the alarm stands, somebody has just answered, and it asks again after 30 min.
    result = proved(alarm("no sign_of_life for 12min and front.open"), alarm("at 08:00 and not front.open"))
    assert after(result.told, MIDNIGHT + 7 * HOUR + 50 * MINUTE) == 30 * MINUTE


def test_what_has_just_been_told_is_not_told_again():
    # One millisecond before 08:00 the resident falls in bed, a minute after she was in the hall. That was told then; at
    # 08:00 the hall has not been quiet for 3 min, and the next look is a day later.
    result = proved(alarm("hall.movement"), alarm("at 08:00 and no hall.movement for 3min"))
    assert after(result.told, MIDNIGHT + 8 * HOUR - 1) == 24 * HOUR + 1


def test_a_door_that_opened_just_before_is_not_told_again():
    result = proved(alarm("front.opened"), alarm("at 08:00 and no front.opened for 3min"))
    assert after(result.told, MIDNIGHT + 8 * HOUR - 1) == 24 * HOUR + 1


@pytest.mark.parametrize(("what", "first_ms"), [("hall.movement", -2), ("front.closed", -4)])
def test_three_times_within_an_hour_are_over_an_hour_after_the_first(what, first_ms):
    # Three times in the last milliseconds before the onset, a door opened in between; what is late comes in 10 min on.
    result = proved(alarm(f"not (3 {what} within 1h)"))
    assert worst(result.normal) == HOUR + first_ms
    assert worst(late(result, what.partition(".")[0]).summary) == HOUR + 10 * MINUTE + first_ms


def test_a_late_report_in_between_may_be_worse_than_none_and_than_many():
    """Onset 07:51. None: away is off from 07:52 on, told at 07:54. One in every moment: away is on at 07:58, told then.

    One alone, made at 07:43 and come in at 07:53: away is on at 07:54 and off at 07:58, told at 07:54 the day after.
    """
    aids = [
        {"name": "seen", "when": "hall.movement", "do": ["set away to on"]},
        {"name": "first", "when": "at 07:52", "do": ["set away to off"]},
        {"name": "second", "when": "at 07:56", "do": ["set away to off"]},
    ]
    result = proved(
        alarm("at 07:54 and away is off"),
        alarm("at 07:58 and away is on"),
        states={"away": {"values": ["off", "on"], "initial": "off"}},
        aid=aids,
    )
    onset = MIDNIGHT + 7 * HOUR + 51 * MINUTE
    assert after(result.told, onset) == 3 * MINUTE
    assert after(late(result, "hall").curve, onset) == 24 * HOUR + 3 * MINUTE
    assert after(late(result, "bed").curve, onset) == 3 * MINUTE
