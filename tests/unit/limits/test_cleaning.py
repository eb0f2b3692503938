"""Days that count and days that do not. Records are made here, so that it is known what is true of them."""

from datetime import timedelta

import numpy as np
import pytest
from lived import HOUR, MINUTE, START, at, lived, record_of, with_signals

from stillwell.limits.cleaning import clean, known_by
from stillwell.record.columns import FALSE, TRUE, Pulses, Steps
from stillwell.record.gaps import with_excluded

pytestmark = pytest.mark.base


def dates(cleaned, reason):
    return [(day.date - START).days for day in cleaned.days if day.left_out == reason]


def test_every_whole_day_of_an_ordinary_record_counts():
    cleaned = clean(lived(20))
    assert [day.date for day in cleaned.used] == [START + timedelta(days=day) for day in range(20)]
    assert cleaned.spans == ((at(0), at(20)),)
    assert cleaned.counts == {}
    assert len(cleaned.life) == 4


def test_first_and_last_day_count_only_if_they_are_whole():
    record = lived(10)
    part = record_of(
        {name: column.times[column.times >= at(0, 12)] for name, column in record.signals.items()},
        (at(0, 12), at(9, 12)),
    )
    assert dates(clean(part), "incomplete") == [0, 9]


def test_a_day_of_23_hours_is_one_day():
    # Clocks in Paris go forward on 29 March 2026, day 83 (Directive 2000/84/EC: last Sunday of March).
    cleaned = clean(lived(90))
    lengths = {(day.date - START).days: day.end_ms - day.start_ms for day in cleaned.days}
    assert lengths[83] == 23 * HOUR
    assert len(cleaned.used) == 90


def test_recorder_off_for_days_is_left_out():
    record = lived(30, away=[(at(10, 12), at(13, 9))])
    assert dates(clean(record), "no report") == [10, 11, 12, 13]


def test_empty_home_with_callers_is_left_out_callers_and_all():
    away = [(at(20, 18), at(41, 10))]
    record = lived(60, away=away)
    calls = [at(day, 11) + minute * MINUTE for day in range(22, 40, 3) for minute in range(0, 40, 2)]
    signals = {name: [*column.times.tolist()] for name, column in record.signals.items()}
    signals["lounge_pir.movement"] += calls
    cleaned = clean(record_of(signals, record.span))
    left = {(day.date - START).days for day in cleaned.days if day.left_out in ("empty", "no report")}
    assert left == set(range(20, 42))
    assert len(cleaned.used) == 38


def test_a_visit_noted_by_the_keeper_is_left_out():
    assert dates(clean(lived(12), visits=[(at(4, 15), at(5, 11))]), "visitor") == [4, 5]


def test_days_marked_by_a_person_come_before_any_other_reason():
    record = with_excluded(lived(12), [(at(3), at(5))])
    assert dates(clean(record), "marked") == [3, 4]


def test_recorder_off_for_hours_is_seen_only_where_a_part_reports_by_the_clock():
    off = [(at(6, 9), at(6, 15))]
    record = lived(12, away=off)
    assert clean(record).counts == {}
    beats = np.arange(at(0), at(12), HOUR)
    beats = beats[(beats < off[0][0]) | (beats >= off[0][1])]
    cleaned = clean(with_signals(record, outlet__alive=Pulses(beats)))
    assert dates(cleaned, "no report") == [6]


def test_a_detector_out_for_days_is_named_where_it_matters():
    record = lived(40)
    # Only the bathroom's detector sees the walks at night: without it every night is one silence.
    times = record.signals["bathroom_pir.movement"].times
    out = (times >= at(20)) & (times < at(24))
    cleaned = clean(with_signals(record, bathroom_pir__movement=Pulses(times[~out])))
    # from its last report on the evening before to its first in the following night
    assert dates(cleaned, "detector out") == [19, 20, 21, 22, 23, 24]
    assert {part for each in cleaned.left_out for part in each.parts} == {"bathroom_pir"}


def test_a_detector_out_that_others_stand_in_for_costs_no_days():
    record = lived(40)
    twin = record.signals["bathroom_pir.movement"].times
    record = with_signals(record, toilet_pir__movement=Pulses(twin + 5000))
    out = (twin >= at(20)) & (twin < at(24))
    cleaned = clean(with_signals(record, bathroom_pir__movement=Pulses(twin[~out])))
    assert dates(cleaned, "detector out") == []


def test_a_door_open_for_ever_after_its_link_was_lost_is_not_believed_from_then_on():
    record = lived(40)
    openings = np.array([at(day, hour) for day in range(20) for hour in (10, 15)], np.int64)
    times = np.sort(np.concatenate([openings, openings[:-1] + 8000]))
    values = np.tile(np.array([TRUE, FALSE], np.int8), 40)[: len(times)]
    lost = Steps(np.array([at(0), at(19, 18)], np.int64), np.array([FALSE, TRUE], np.int8))
    cleaned = clean(with_signals(record, front_door__open=Steps(times, values), front_door__link_lost=lost))
    assert {(each.signal, each.reason) for each in cleaned.mistrusted} >= {
        ("front_door.open", "dead"),
        ("front_door.open", "stuck"),
    }
    assert cleaned.trusted("front_door.open", at(10))
    assert not cleaned.trusted("front_door.open", at(30))
    assert "front_door.open" not in cleaned.life
    assert len(cleaned.used) == 40


def test_a_renamed_detector_is_one():
    record = lived(40)
    times = record.signals["bathroom_pir.movement"].times
    old, new = times[times < at(20)], times[times >= at(20)]
    cleaned = clean(with_signals(record, bathroom_pir__movement=Pulses(new), shower_pir__movement=Pulses(old)))
    assert "shower_pir.movement" not in cleaned.record.signals
    assert np.array_equal(cleaned.record.signals["bathroom_pir.movement"].times, times)
    assert cleaned.counts == {}


def test_a_dead_detector_is_left_out_of_the_whole_past():
    record = lived(60)
    times = record.signals["kitchen_pir.movement"].times
    cleaned = clean(with_signals(record, kitchen_pir__movement=Pulses(times[times < at(30)])))
    assert "kitchen_pir.movement" not in cleaned.life
    assert len(cleaned.used) == 60


def test_a_detector_that_reports_without_a_rest_hides_no_silence():
    record = lived(30)
    noise = np.arange(at(10, 13), at(12, 18), 7 * MINUTE)
    times = np.union1d(record.signals["lounge_pir.movement"].times, noise)
    cleaned = clean(with_signals(record, lounge_pir__movement=Pulses(times)))
    (stuck,) = [each for each in cleaned.mistrusted if each.reason == "chatters"]
    assert stuck.start_ms <= at(10, 13)
    assert stuck.end_ms >= at(12, 17.8)
    kept = cleaned.record.signals["lounge_pir.movement"].times
    assert not ((kept >= stuck.start_ms) & (kept < stuck.end_ms)).any()
    assert "lounge_pir.movement" in cleaned.life


def test_one_that_goes_on_without_a_rest_to_the_end_is_no_sign_of_life():
    record = lived(30)
    noise = np.arange(at(27), at(30), 7 * MINUTE)
    times = np.union1d(record.signals["lounge_pir.movement"].times, noise)
    assert "lounge_pir.movement" not in clean(with_signals(record, lounge_pir__movement=Pulses(times))).life


def test_a_contact_that_repeats_itself_gives_no_sign_of_life():
    record = lived(10)
    repeated = np.arange(at(0), at(10), HOUR)
    door = Steps(repeated, np.full(len(repeated), FALSE, np.int8))
    quiet = record_of({name: [] for name in record.signals}, record.span)
    cleaned = clean(with_signals(quiet, front_door__open=door))
    assert cleaned.used == ()


def test_what_is_known_by_an_evening_does_not_change_with_what_comes_later():
    early = lived(30, seed=3)
    late = lived(60, seed=3, away=[(at(30), at(45))])
    for evening in (at(8), at(20, 21), at(30)):
        one, other = clean(known_by(early, evening)), clean(known_by(late, evening))
        assert one.days == other.days
        assert one.life == other.life
        assert one.mistrusted == other.mistrusted


def test_a_stretch_without_report_is_known_as_one_after_a_day():
    record = lived(30, away=[(at(20, 12), at(26))])
    assert dates(clean(known_by(record, at(21, 9))), "no report") == []
    assert dates(clean(known_by(record, at(22, 9))), "no report") == [20, 21, 22]


def test_known_by_keeps_what_a_person_marked_before():
    record = with_excluded(lived(20), [(at(3), at(5)), (at(15), at(16))])
    known = known_by(record, at(10))
    assert [(gap.start_ms, gap.end_ms) for gap in known.gaps] == [(at(3), at(5))]
    assert known.span == (at(0), at(10))
    assert known.events == sum(len(column.times) for column in known.signals.values())
