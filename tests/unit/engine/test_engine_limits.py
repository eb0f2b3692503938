"""Tables of limits: small cases by hand, from the definitions in docs/rule-language.md."""

import numpy as np
import pytest
from tests.smallest import alarm, plan_of

from stillwell.engine import columns, walk
from stillwell.engine.carry import carried
from stillwell.engine.program import compile_plan
from stillwell.engine.step import Stepper
from stillwell.record.columns import Pulses, Record, Steps

pytestmark = pytest.mark.base

MINUTE_MS, HOUR_MS = 60_000, 3_600_000
TUESDAY_MS = 1_772_496_000_000  # 3 March 2026, 00:00 in London
WHEN = "no sign_of_life for limit quiet"


def home(longest, *rows, when=WHEN, zone="Europe/London"):
    return plan_of(
        zone,
        rooms={name: {"outline": [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0]]} for name in ("hall", "bedroom")},
        openings={"door": {"kind": "door", "rooms": ["hall", "outside"]}},
        parts={
            "hall_pir": {"kind": "movement", "room": "hall"},
            "bed_pir": {"kind": "movement", "room": "bedroom"},
            "front": {"kind": "contact", "opening": "door"},
        },
        signals={"sign_of_life": "hall_pir.movement or bed_pir.movement"},
        limits={"quiet": {"longest": longest, "rows": list(rows)}},
        alarm=[alarm(when)],
    )


def raised(plan, signals, start=TUESDAY_MS, hours=48):
    """Return when the alarm is raised, in minutes after the start; both evaluators agree."""
    found = {}
    for name, minutes in signals.items():
        times = np.array([start + round(minute * MINUTE_MS) for minute in minutes], np.int64)
        found[name] = Pulses(times)
        if name.endswith(".open"):
            found[name] = Steps(times, np.array([2 * (number % 2) for number in range(len(times))], np.int8))
    record = Record("Europe/London", (start, start + hours * HOUR_MS), found)
    program = compile_plan(plan)
    fast, slow = (run(program, record).fired for run in (columns.run, walk.run))
    (name,) = fast
    assert fast[name].tolist() == slow[name].tolist()
    return ((fast[name] - start) / MINUTE_MS).tolist()


ROOMS = ({"room": "bedroom", "limit": "8h"}, {"room": "hall", "limit": "1h"})


def test_the_room_of_the_last_sign_fixes_the_limit():
    plan = home("10h", *ROOMS)
    assert raised(plan, {"hall_pir.movement": [0, 600], "bed_pir.movement": [30]}) == [30 + 480, 600 + 60]


def test_of_two_signs_in_one_instant_the_shorter_limit_counts():
    assert raised(home("10h", *ROOMS), {"hall_pir.movement": [5], "bed_pir.movement": [5]}) == [65]


def test_the_first_row_that_applies_counts_and_the_longest_where_none_does():
    plan = home("10h", {"room": "hall", "limit": "3h"}, {"from": "00:00", "to": "01:00", "limit": "2h"})
    assert raised(plan, {"hall_pir.movement": [5]}) == [185]
    assert raised(plan, {"bed_pir.movement": [59]}) == [59 + 120]
    assert raised(plan, {"bed_pir.movement": [60]}) == [60 + 600]


def test_nothing_is_asked_about_the_hours_after_the_sign():
    plan = home("10h", {"from": "22:00", "to": "00:00", "limit": "9h"}, {"limit": "1h"})
    assert raised(plan, {"hall_pir.movement": [-30]}, start=TUESDAY_MS, hours=20) == [600]  # before it began: longest
    assert raised(plan, {"hall_pir.movement": [30]}, start=TUESDAY_MS - HOUR_MS, hours=20) == [30 + 540]


def test_before_any_sign_the_longest_runs_from_the_start():
    assert raised(home("4h", {"limit": "1h"}), {}) == [240]


def test_the_day_is_that_of_the_sign():
    plan = home("10h", {"days": "mon", "limit": "1h"}, {"days": "tue", "limit": "2h"})
    start = TUESDAY_MS - HOUR_MS
    assert raised(plan, {"hall_pir.movement": [59.999]}, start=start) == [59.999 + 60]
    assert raised(plan, {"hall_pir.movement": [60]}, start=start) == [60 + 120]


def test_a_door_that_moved_shortly_before():
    plan = home("10h", {"after_door": "15min", "limit": "9h"}, {"limit": "1h"})
    signals = {"front.open": [0, 100, 101]}
    assert raised(plan, signals | {"hall_pir.movement": [99, 115]}) == [115 + 540]
    assert raised(plan, signals | {"hall_pir.movement": [99, 116]}) == [116 + 60]


def test_while_it_is_not_known_whether_a_door_moved_the_shorter_limit_counts():
    # watching began ten minutes ago: a door may have moved just before
    plan = home("10h", {"after_door": "15min", "limit": "1h"}, {"limit": "9h"})
    assert raised(plan, {"hall_pir.movement": [10]}) == [70]
    assert raised(plan, {"hall_pir.movement": [20]}) == [20 + 540]


@pytest.mark.parametrize(
    ("sign", "minutes"),
    [("2026-10-24T23:30", 60), ("2026-10-25T00:30", 60), ("2026-10-25T01:29", 60), ("2026-10-25T01:30", 120)],
)
def test_in_the_night_the_clocks_go_back_a_band_ends_with_the_second_of_two_hours(sign, minutes):
    """London, 25 October 2026: 01:30 local time is 00:30 and 01:30 UTC."""
    plan = home("3h", {"from": "22:00", "to": "01:30", "limit": "1h"}, {"from": "01:30", "to": "22:00", "limit": "2h"})
    at_ms = int(np.datetime64(sign, "ms").astype(np.int64))
    assert raised(plan, {"hall_pir.movement": [5]}, start=at_ms - 5 * MINUTE_MS, hours=12) == [5 + minutes]


@pytest.mark.parametrize(("sign", "minutes"), [("2026-03-29T00:59", 60), ("2026-03-29T01:00", 120)])
def test_in_the_night_the_clocks_go_forward_a_band_ends_with_the_gap(sign, minutes):
    """London, 29 March 2026: from 01:00 UTC on it is 02:00, and 01:30 is left out."""
    plan = home("3h", {"from": "22:00", "to": "01:30", "limit": "1h"}, {"from": "01:30", "to": "22:00", "limit": "2h"})
    at_ms = int(np.datetime64(sign, "ms").astype(np.int64))
    assert raised(plan, {"hall_pir.movement": [5]}, start=at_ms - 5 * MINUTE_MS, hours=12) == [5 + minutes]


def swapped(before, after, hours):
    """Return when the alarm is raised, in hours, if the plan is changed so many hours after a movement in the hall."""
    old, new = compile_plan(before), compile_plan(after)
    stepper = Stepper(old, TUESDAY_MS)
    stepper.take(TUESDAY_MS, [("hall_pir.movement", 1)])
    stepper.advance(TUESDAY_MS + hours * HOUR_MS)
    stepper = Stepper.resume(new, carried(old, stepper.snapshot(), new))
    return [(one.at_ms - TUESDAY_MS) / HOUR_MS for one in stepper.advance(TUESDAY_MS + 20 * HOUR_MS)]


def test_a_plan_that_learns_its_limits_goes_on_from_the_last_sign():
    plain, table = home("9h", when="no sign_of_life for 9h"), home("10h", *ROOMS)
    # what the last sign was the old plan does not know: the shorter of the limits it may have
    assert swapped(plain, table, 2) == [2 + 1 / HOUR_MS]
    assert swapped(plain, home("10h", {"room": "hall", "limit": "5h"}, {"limit": "6h"}), 2) == [5]
    assert swapped(table, home("10h", {"room": "hall", "limit": "5h"}), 0) == [5]
    assert swapped(table, plain, 0) == [9]
