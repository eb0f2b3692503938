"""One person, a caller, two residents: what movement in rooms far apart tells of them."""

from datetime import date
from itertools import pairwise

import numpy as np
import pytest
from lived import MINUTE, at, record_of
from tests.smallest import plan_of

from stillwell.limits.company import company, rooms_apart
from stillwell.plan.model import Plan
from stillwell.record.columns import Pulses
from stillwell.simulate.run import simulate_with_truth

pytestmark = pytest.mark.base

ROW = ("bedroom", "hall", "lounge", "kitchen")


def row_of_rooms(doors=True) -> Plan:
    """bedroom - hall - lounge - kitchen, a detector in each, a front door in the hall."""
    rooms = {
        name: {"outline": [[x + i * 4.0, y] for x, y in [(0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (0.0, 3.0)]]}
        for i, name in enumerate(ROW)
    }
    openings = {"front_door": {"kind": "door", "rooms": ["hall", "outside"]}}
    if doors:
        openings |= {f"{one}_door": {"kind": "door", "rooms": [one, other]} for one, other in pairwise(ROW)}
    parts = {f"{name}_pir": {"kind": "movement", "room": name, "hold": "30s"} for name in ROW}
    return plan_of(rooms=rooms, openings=openings, parts=parts)


LIFE = tuple(f"{name}_pir.movement" for name in ROW)
SPAN = (at(0), at(10))


def test_rooms_with_a_room_between_them_lie_apart():
    assert rooms_apart(row_of_rooms()) == {
        (one, other) for i, one in enumerate(ROW) for j, other in enumerate(ROW) if abs(i - j) >= 2
    }


def test_a_plan_without_inner_doors_tells_nothing():
    told = company(row_of_rooms(doors=False), record_of({name: [] for name in LIFE}, SPAN), LIFE, [SPAN])
    assert told.pairs == 0
    assert not told.shared


def test_a_walk_takes_longer_than_three_seconds_through_a_room():
    walks = {"bedroom_pir.movement": [at(1, 9)], "lounge_pir.movement": [at(1, 9) + 3001]}
    assert company(row_of_rooms(), record_of(walks, SPAN), LIFE, [SPAN]).walks == ()
    walks["lounge_pir.movement"] = [at(1, 9) + 3000]
    assert company(row_of_rooms(), record_of(walks, SPAN), LIFE, [SPAN]).walks == (at(1, 9) + 3000,)


def test_it_is_seen_though_a_third_detector_reports_in_between():
    walks = {
        "bedroom_pir.movement": [at(1, 9)],
        "hall_pir.movement": [at(1, 9) + 500],
        "lounge_pir.movement": [at(1, 9) + 900],
    }
    assert company(row_of_rooms(), record_of(walks, SPAN), LIFE, [SPAN]).walks == (at(1, 9) + 900,)


def test_neighbouring_rooms_tell_nothing():
    walks = {"bedroom_pir.movement": [at(1, 9)], "hall_pir.movement": [at(1, 9) + 100]}
    assert company(row_of_rooms(), record_of(walks, SPAN), LIFE, [SPAN]).walks == ()


def test_several_at_once_are_a_visit_a_lone_one_is_not():
    times = [at(1, 15), at(1, 16), at(1, 17), at(6, 10)]
    walks = {"bedroom_pir.movement": times, "kitchen_pir.movement": [time + 1000 for time in times]}
    told = company(row_of_rooms(), record_of(walks, SPAN), LIFE, [SPAN])
    assert told.visits == ((at(1, 15) + 1000, at(1, 17) + 1001),)
    assert not told.shared


def test_what_lies_outside_of_the_days_that_count_is_not_looked_at():
    walks = {"bedroom_pir.movement": [at(1, 15)], "kitchen_pir.movement": [at(1, 15)]}
    assert company(row_of_rooms(), record_of(walks, SPAN), LIFE, [(at(2), at(9))]).walks == ()


def test_two_who_move_about_on_their_own_are_two_residents():
    rng = np.random.default_rng(5)
    days = 20
    walks = {name: [] for name in LIFE}
    for _person in range(2):
        for day in range(days):
            for minute in range(8 * 60, 22 * 60, 2):
                name = str(rng.choice(LIFE))
                walks[name].append(at(day) + minute * MINUTE + int(rng.integers(2 * MINUTE)))
    span = (at(0), at(days))
    told = company(row_of_rooms(), record_of(walks, span), LIFE, [span])
    assert told.shared
    assert told.visits == ()


@pytest.mark.parametrize("seed", [1, 2])
def test_one_invented_resident_with_callers_is_one_two_of_them_are_two(cottage, seed):
    one, other = (simulate_with_truth(cottage, 40, number, date(2026, 1, 5)).record for number in (seed, seed + 50))
    life = tuple(name for name in one.signals if name.endswith(".movement"))
    assert not company(cottage, one, life, [one.span]).shared
    both = {name: np.union1d(one.signals[name].times, other.signals[name].times) for name in life}
    shared = record_of(both, one.span, zone=one.zone)
    assert company(cottage, shared, life, [one.span]).shared


def test_movement_only_counts():
    walks = {"bedroom_pir.movement": [at(1, 15)], "kitchen_pir.movement": []}
    record = record_of(walks, SPAN)
    extra = dict(record.signals) | {"kitchen_door.opened": Pulses(np.array([at(1, 15)], np.int64))}
    plan = row_of_rooms()
    told = company(
        plan, record_of({name: c.times for name, c in extra.items()}, SPAN), (*LIFE, "kitchen_door.opened"), [SPAN]
    )
    assert told.walks == ()
