"""Learned limits on lives that are known, for they were invented."""

import time

import numpy as np
import pytest
from tests.unit.limits.lived import DAY, HOUR, MINUTE, ROOMS, at, lived, record_of

from stillwell.limits.cleaning import clean
from stillwell.limits.climb import PRICES_H
from stillwell.limits.contexts import places_of
from stillwell.limits.learn import learn
from stillwell.limits.settings import Settings
from stillwell.limits.silences import Silences, silences_of
from stillwell.plan.texts import EVERY_DAY

pytestmark = pytest.mark.base


MONDAY, SATURDAY, SUNDAY = 0, 5, 6


def limit_h(learned, part, hour, weekday=MONDAY):
    """The limit in hours after a sign of a part at a local hour of a day of the week."""
    local = np.array([(4 + weekday) * DAY + round(hour * HOUR)])  # 5 January 1970 was a Monday
    return learned.table.limits((part,), np.array([0]), local)[0] / HOUR


@pytest.fixture(scope="module")
def sixty_days():
    return silences_of(clean(lived(60)))


@pytest.fixture(scope="module")
def learned(sixty_days):
    return learn(sixty_days, [1 / 30, 1 / 180])


def test_a_night_is_given_its_time_and_a_day_is_not(learned):
    question, _ = learned
    assert limit_h(question, "kitchen_pir", 12) <= 2
    for one in learned:
        # in bed at half past ten, up for a moment at about two: three and a half hours, and not much more
        assert 3.5 < limit_h(one, "lounge_pir", 22.5) < 6
        # every eight minutes somebody moves; a silence counts as spread over 0.65 h, of which 2.5 h are nearly four
        assert limit_h(one, "kitchen_pir", 12) <= 2.5
        assert one.table.longest_ms == 12 * HOUR


def test_a_part_never_heard_is_given_the_homes_limits(learned):
    for one in learned:
        assert limit_h(one, "new_pir", 22.5) > 3.5
        assert limit_h(one, "new_pir", 12) <= 2.5


def test_hours_without_any_sign_are_given_those_of_the_whole_day():
    # signs from 08:00 to 22:00 only, every half hour; then nothing until the next day
    signs = [at(day, hour / 2) for day in range(30) for hour in range(16, 45)]
    [found] = learn(silences_of(clean(record_of({"hall_pir.movement": signs}, (at(0), at(30))))), [1 / 30])
    assert limit_h(found, "hall_pir", 22) > 10
    assert limit_h(found, "hall_pir", 2.5) > 3
    assert limit_h(found, "hall_pir", 12) <= 4


def test_the_patient_alarm_is_nowhere_the_earlier(learned):
    question, call = learned
    for part in (*(f"{room}_pir" for room in ROOMS), "else"):
        for half_hour in range(48):
            assert limit_h(call, part, half_hour / 2) >= limit_h(question, part, half_hour / 2) - 1e-9


def test_limits_keep_to_the_budget_on_days_never_seen(learned):
    later = silences_of(clean(lived(120, seed=2)))
    limits = learned[0].table.limits(later.parts, later.part, later.local_ms)
    # 1 per 30 days is 4 on 120 days; with more than 8 they would hardly be what was promised (Poisson, 2 %)
    assert (later.length_ms >= limits).sum() <= 8


def test_an_outing_may_last():
    # The door is the last sign of outings of one to five hours.
    [found] = learn(with_outings(60, range(0, 60, 3)), [1 / 30], ["front_door"])
    for weekday in (MONDAY, SUNDAY):
        assert limit_h(found, "front_door", 12, weekday) >= 8
    assert limit_h(found, "kitchen_pir", 12) <= 2


def test_who_goes_out_on_sundays_is_looked_for_sooner_on_other_days():
    # The first day was a Monday. On other days the door moves all day long, and nobody goes out by it.
    found = learn(with_outings(84, range(6, 84, 7), every_day=True), [1 / 30, 1 / 180], ["front_door"])
    for one in found:
        assert limit_h(one, "front_door", 12, SUNDAY) >= 8
        for weekday in (MONDAY, SATURDAY):
            assert limit_h(one, "front_door", 12, weekday) <= 4
            assert limit_h(one, "kitchen_pir", 12, weekday) <= 2.5


def test_days_that_are_lived_alike_are_not_told_apart(learned):
    for one in learned:
        assert {row.days for row in one.table.rows} == {EVERY_DAY}


def with_outings(days, out_on, *, every_day=False):
    """Silences of a life with outings of one to five hours on some days, of which a door is the last sign."""
    rng = np.random.default_rng(3)
    leaves = [at(day, rng.uniform(9, 15)) for day in out_on]
    away = [(time, time + round(rng.uniform(1, 5) * HOUR)) for time in leaves]
    inside = _times(record_of(_times(lived(days)), (at(0), at(days)), away))
    others = [day for day in range(days) if every_day and day not in out_on]
    moves = leaves + [at(day, 8 + number / 12) for day in others for number in range(12 * 12)]
    record = record_of(inside | {"front_door.vibration": moves}, (at(0), at(days)))
    return silences_of(clean(record), ["front_door"])


def _times(record):
    return {name: column.times.tolist() for name, column in record.signals.items() if len(column.times)}


def test_no_limit_beyond_the_cap_nor_below_an_hour(sixty_days):
    [found] = learn(sixty_days, [1 / 180], (), Settings(longest_ms=5 * HOUR))
    limits = [row.limit_ms for row in found.table.rows]
    assert max(limits) <= 5 * HOUR
    assert min(limits) >= HOUR


def test_what_outlasts_the_cap_is_told_and_drives_nothing():
    # signs from 10:00 to 20:00 only, every half hour: every night is longer than any limit may be
    signs = [at(day, hour / 2) for day in range(30) for hour in range(20, 41)]
    [found] = learn(silences_of(clean(record_of({"hall_pir.movement": signs}, (at(0), at(30))))), [1 / 30])
    assert found.expected_per_day > 0.9
    assert limit_h(found, "hall_pir", 12) <= 2


def test_parts_that_tell_little_share_a_place(sixty_days):
    places, groups = places_of(sixty_days, (), Settings(own_place=0.9))
    assert groups == ((),)
    assert set(places.tolist()) == {0}
    _, groups = places_of(sixty_days, ("kitchen_pir",), Settings(own_place=0.9))
    assert groups == (("kitchen_pir",), ())


def test_nothing_to_learn_from_is_no_limit():
    none = np.empty(0, np.int64)
    with pytest.raises(ValueError, match="nothing to learn from"):
        learn(Silences((), none, none, none, none, 0), [1 / 30])
    with pytest.raises(ValueError, match="nothing to learn from"):
        learn(silences_of(clean(lived(1))), [1 / 30])


def test_the_ladder_reaches_from_eager_to_hardly_ever(sixty_days):
    eager, patient = learn(sixty_days, [1.0, 1 / 3650])
    assert PRICES_H[0] <= eager.price_h < patient.price_h <= PRICES_H[-1]
    assert eager.expected_per_day > patient.expected_per_day


def test_six_months_take_no_longer_than_asked_for():
    """5 s on one core was asked for; far below it, so that a busy machine does not fail the test."""
    silences = silences_of(clean(lived(182)))
    begin = time.process_time()
    learn(silences, [1 / 30, 1 / 180])
    assert time.process_time() - begin < 5
    assert len(silences.length_ms) > 15_000
    assert silences.length_ms.min() >= MINUTE // 2
