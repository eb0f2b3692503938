"""Which signals can be believed."""

import numpy as np
import pytest
from lived import HOUR, MINUTE, at, lived, with_signals

from stillwell.limits.beats import shortest_beat_ms, silent_recorder
from stillwell.limits.trust import changes, chatter, life_times, weighty_parts
from stillwell.record.columns import FALSE, TRUE, UNKNOWN, Pulses, Steps

pytestmark = pytest.mark.base


def level(*values):
    return Steps(np.arange(len(values), dtype=np.int64) * 10, np.array(values, np.int8))


def test_only_a_change_of_a_known_level_tells_of_somebody():
    assert changes(level(FALSE, FALSE, TRUE, TRUE, FALSE)).tolist() == [20, 40]


def test_unknown_between_equal_values_is_no_change():
    assert changes(level(FALSE, UNKNOWN, FALSE, UNKNOWN, TRUE)).tolist() == [40]


def test_a_level_that_never_was_known_tells_nothing():
    assert changes(level(UNKNOWN, UNKNOWN)).tolist() == []
    assert changes(level()).tolist() == []


def test_two_signs_at_once_are_one():
    record = lived(3)
    twice = with_signals(record, twin__movement=record.signals["lounge_pir.movement"])
    names = ["lounge_pir.movement", "twin.movement", "not_there.movement"]
    assert np.array_equal(life_times(twice, names), record.signals["lounge_pir.movement"].times)


def test_a_day_without_half_an_hours_rest_is_no_person():
    record = lived(10)
    names = list(record.signals)
    assert [chatter(record, name) for name in names] == [[]] * 4
    busy = np.arange(at(2), at(3) - HOUR, 10 * MINUTE)
    assert chatter(with_signals(record, x__movement=Pulses(busy)), "x.movement") == []
    longer = np.arange(at(2), at(3) + HOUR, 10 * MINUTE)
    (found,) = chatter(with_signals(record, x__movement=Pulses(longer)), "x.movement")
    assert (found.start_ms, found.end_ms) == (at(2), int(longer[-1]) + 1)


def test_the_part_that_alone_ends_the_nights_matters():
    record = lived(30)
    assert weighty_parts(record, list(record.signals)) >= {"bathroom_pir"}
    assert weighty_parts(record, []) == frozenset()


def test_the_beat_is_that_of_the_most_regular_part():
    record = lived(10)
    assert shortest_beat_ms(record) is None
    beats = Pulses(np.arange(at(0), at(10), HOUR))
    assert shortest_beat_ms(with_signals(record, outlet__alive=beats)) == HOUR


def test_a_part_opened_twice_in_ten_days_does_not_beat():
    rare = Pulses(np.array([at(1, 9), at(1, 9) + MINUTE, at(9, 9)], np.int64))
    assert shortest_beat_ms(with_signals(lived(10), cupboard__opened=rare)) is None


def test_one_missed_beat_is_no_outage():
    record = lived(10)
    beats = np.arange(at(0), at(10), HOUR)
    quiet = (at(4, 1), at(4, 4))
    for name, column in record.signals.items():
        kept = (column.times < quiet[0]) | (column.times >= quiet[1])
        record = with_signals(record, **{name.replace(".", "__"): Pulses(column.times[kept])})
    one_missed = beats[beats != at(4, 2)]
    assert list(silent_recorder(with_signals(record, outlet__alive=Pulses(one_missed)))) == []
    gone = beats[(beats <= at(4, 0)) | (beats >= at(4, 5))]
    (found,) = silent_recorder(with_signals(record, outlet__alive=Pulses(gone)))
    assert at(4, 0) <= found[0] <= at(4, 1)
    assert found[1] >= at(4, 4)
