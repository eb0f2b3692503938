"""Judged on days that were not learned from: worked by hand on records of a few signs."""

import numpy as np
import pytest
from lived import DAY, HOUR, MINUTE, at, lived, record_of

from stillwell.limits.cleaning import clean
from stillwell.limits.realised import judge, once_a_day, signs_of_record, told_by, walk_forward
from stillwell.limits.table import LimitRow, LimitTable
from stillwell.plan.texts import EVERY_DAY

pytestmark = pytest.mark.base

HALL = "hall_pir.movement"


def four_hourly(days=3):
    """A sign every four hours from midnight on, but for one at noon of the second day."""
    times = [at(day, hour) for day in range(days) for hour in range(0, 24, 4) if (day, hour) != (1, 12)]
    return signs(record_of({HALL: times}, (at(0), at(days))))


def signs(record):
    return signs_of_record(clean(record, list(record.signals)), list(record.signals))


def fixed(hours):
    return LimitTable((), round(hours * HOUR))


def test_a_silence_longer_than_its_limit_is_one_false_alarm():
    found = four_hourly()
    assert judge(found, told_by(fixed(4), found), range(3)).alarms == (at(1, 12),)
    assert judge(found, told_by(fixed(8), found), range(3)).alarms == ()
    # the last silence ends with the record: nobody knows whether 4 h would have been too short
    assert judge(found, told_by(fixed(3), found), range(3)).false.count == 17


def test_rates_are_those_of_the_judged_days():
    found = four_hourly()
    judged = judge(found, told_by(fixed(4), found), [1, 2])
    assert judged.days == 2
    assert judged.false.per_30_days == pytest.approx(15)
    assert judge(found, told_by(fixed(4), found), [0, 2]).false.count == 0


def test_silence_at_any_instant_worked_by_hand():
    # Signs every 4 h, limit 6 h: begun u after a sign, the alarm comes 6 h - u later, u even in (0, 4 h).
    found = signs(record_of({HALL: [at(0, hour) for hour in range(0, 24, 4)]}, (at(0), at(1))))
    whole = judge(found, told_by(fixed(6), found), [0]).whole
    assert whole.median == pytest.approx(4 * 3600)
    assert whole.max == pytest.approx(6 * 3600)
    assert whole.p95 == pytest.approx((2 + 0.95 * 4) * 3600)


def test_onsets_from_eight_to_ten_in_the_evening_are_those_by_day():
    found = signs(record_of({HALL: [at(0, hour) for hour in (0, 8, 22)]}, (at(0), at(1))))
    by_day = judge(found, told_by(fixed(20), found), [0]).by_day
    assert by_day.weight_s == pytest.approx(14 * 3600)
    assert by_day.max == pytest.approx(20 * 3600)
    assert by_day.median == pytest.approx(13 * 3600)


def test_an_alarm_that_stands_already_is_no_delay():
    found = signs(record_of({HALL: [at(0, 0), at(0, 20)]}, (at(0), at(1))))
    assert judge(found, told_by(fixed(5), found), [0]).whole.standing_share == pytest.approx(15 / 24)


@pytest.mark.parametrize(("last", "told"), [(19.5, 32), (20, 32), (20.5, 56), (8, 32), (7, 32)])
def test_a_look_a_day_comes_at_the_first_eight_oclock_after_twelve_hours(last, told):
    found = signs(record_of({HALL: [at(0, last)]}, (at(0), at(1))))
    assert (once_a_day(found) - at(0)).tolist() == [told * HOUR]


def test_limits_are_learned_only_from_what_was_known():
    record = lived(70)
    names = list(record.signals)
    found = signs(record)
    seen = []

    def learn(known):
        seen.append((known.record.span[1], max(column.times[-1] for column in known.record.signals.values())))
        return {"x": fixed(len(seen))}

    told, judged = walk_forward(record, names, learn, found, every_days=14)
    assert judged == tuple(range(23, 70))  # a third of 70 days, 28 at most
    assert [end for end, _ in seen] == [at(23), at(37), at(51), at(65)]
    assert all(last < end for end, last in seen)
    limit = told["x"] - found.times
    assert set(limit[(found.day >= 37) & (found.day < 51)].tolist()) == {2 * HOUR}
    assert set(limit[found.day >= 65].tolist()) == {4 * HOUR}


def test_what_teaches_nothing_tells_nothing():
    record = lived(12)
    calls = []
    told, judged = walk_forward(record, list(record.signals), lambda known: calls.append(known) or {}, signs(record))
    assert judged == tuple(range(7, 12))
    assert told == {}
    assert [len(known.used) for known in calls] == [7, 11]


def test_empty_days_are_neither_judged_nor_held_against_limits():
    away = [(at(30), at(40))]
    found = signs(lived(60, away=away))
    judged = judge(found, told_by(fixed(20), found), range(len(found.days)))
    assert judged.days == 60 - 12  # the gap reaches from the evening of day 29 to the morning of day 40
    assert judged.alarms == ()


def test_the_first_row_that_fits_sets_the_limit():
    record = record_of({HALL: [at(0, 1), at(0, 9)], "bath_pir.movement": [at(0, 5)]}, (at(0), at(1)))
    found = signs(record)
    table = LimitTable((LimitRow(("hall_pir",), 0, 480, EVERY_DAY, HOUR), LimitRow((), 0, 1440, EVERY_DAY, DAY)), DAY)
    limits = told_by(table, found) - found.times
    assert limits.tolist() == [HOUR, DAY, DAY]
    assert np.all(np.diff(found.times) == 4 * 60 * MINUTE)
