"""Which silences are learned from."""

from dataclasses import replace

import numpy as np
import pytest
from tests.unit.limits.lived import DAY, HOUR, MINUTE, at, lived, record_of, with_signals

from stillwell.limits.cleaning import clean
from stillwell.limits.silences import local_ms, silences_of
from stillwell.record.columns import FALSE, TRUE, Steps

pytestmark = pytest.mark.base


def test_every_silence_of_a_whole_record_is_there_once():
    record = lived(10)
    found = silences_of(clean(record))
    times = np.unique(np.concatenate([column.times for column in record.signals.values()]))
    assert found.days == 10
    assert found.length_ms.tolist() == np.diff(times).tolist()


def test_a_silence_over_midnight_belongs_to_the_day_of_its_sign():
    signs = [at(day, hour) for day in range(8) for hour in range(8, 24)]
    found = silences_of(clean(record_of({"hall_pir.movement": signs}, (at(0), at(8)))))
    long = found.length_ms == 9 * HOUR
    assert long.sum() == 7
    assert found.day[long].tolist() == list(range(7))
    assert (found.local_ms[long] % DAY == 23 * HOUR).all()


def test_silences_that_run_into_an_empty_stretch_are_left_out():
    record = lived(40, away=[(at(20, 12), at(27, 12))])
    found = silences_of(clean(record))
    assert found.length_ms.max() < 12 * HOUR
    assert found.days == 32


def test_callers_in_an_empty_home_are_not_learned():
    record = lived(60, away=[(at(20, 12), at(50, 12))])
    calls = [at(day, 15) + minute * MINUTE for day in (25, 33, 41) for minute in range(20)]
    kitchen = record.signals["kitchen_pir.movement"]
    with_calls = with_signals(
        record, kitchen_pir__movement=replace(kitchen, times=np.union1d(kitchen.times, np.array(calls)))
    )
    assert silences_of(clean(with_calls)).length_ms.tolist() == silences_of(clean(record)).length_ms.tolist()


def test_the_door_that_died_still_tells_of_outings_before():
    """Left out of the past, it would make an outing a silence in the room where a sign came last before it."""
    record = lived(40, away=[(at(day, 10), at(day, 14)) for day in range(5, 20)])
    doors = [at(day, 10) for day in range(5, 20)]
    times = np.array([time for door in doors for time in (door, door + MINUTE)])
    values = np.array([TRUE, FALSE] * len(doors), np.int8)
    lost = Steps(np.array([at(20)]), np.array([TRUE], np.int8))
    record = with_signals(record, front_door__open=Steps(times, values), front_door__link_lost=lost)
    dead = clean(record)
    assert "front_door.open" not in dead.life
    after_door = silences_of(dead, ["front_door"])
    outings = after_door.length_ms > 3 * HOUR
    by_day = outings & (after_door.local_ms % DAY > 9 * HOUR) & (after_door.local_ms % DAY < 12 * HOUR)
    assert by_day.sum() == 15
    assert {after_door.parts[part] for part in after_door.part[by_day].tolist()} == {"front_door"}
    without = silences_of(dead)
    assert "front_door" not in without.parts


def test_the_clock_on_the_wall_over_a_change_of_the_clocks():
    # 29 March 2026, 01:00 UTC: Paris goes from UTC+1 to UTC+2 (tz database)
    change = 1_774_746_000_000
    found = local_ms("Europe/Paris", np.array([change - 1, change]), (change - DAY, change + DAY))
    assert found.tolist() == [change - 1 + HOUR, change + 2 * HOUR]
