"""Days that count in the recorded homes, against the calendar published with the collection.

The data are not part of this project; see test_recorded_homes.py. The facts (182 whole occupied days, the empty spring
with 22 calls, what died, was renamed or stood open, the bedroom's quiet days) were measured on the files by whoever
collected them, apart from this program.
"""

from datetime import date
from functools import cache

import pytest
from tests.reference.test_recorded_homes import DATA, EXAMPLES, INRIA, LOGS

from stillwell.files import lines, read_text
from stillwell.limits.cleaning import clean, known_by
from stillwell.limits.drift import drift
from stillwell.limits.trust import chatter
from stillwell.record.importing import import_lines
from stillwell.record.mapping import read_mapping
from stillwell.record.presence import DAY_MS, life_signals
from stillwell.wording.cleaning import left_out_sentences, trust_sentences

pytestmark = [
    pytest.mark.data,
    pytest.mark.skipif(
        not DATA.is_dir(), reason="the recorded homes are not here: name their folder in STILLWELL_DATA"
    ),
]


@cache
def record(name):
    mapping = EXAMPLES / name / "mapping.toml"
    return import_lines(lines(DATA / name / LOGS[name]), read_mapping(read_text(mapping))).record


@cache
def inria():
    return clean(record(INRIA))


def days(reason):
    return {day.date for day in inria().days if day.left_out == reason}


def test_182_whole_days_somebody_lived_there():
    assert len(inria().used) + len(days("detector out")) == 182


def test_the_occupied_runs_are_those_of_the_calendar():
    there = sorted({day.date for day in inria().used} | days("detector out"))
    runs = [("2017-02-23", "2017-03-29"), ("2017-06-01", "2017-09-23"), ("2017-11-12", "2017-12-13")]
    expected = [
        date.fromordinal(day)
        for first, last in runs
        for day in range(date.fromisoformat(first).toordinal(), date.fromisoformat(last).toordinal() + 1)
    ]
    assert there == expected


def test_the_empty_spring_is_left_out_callers_and_all():
    spring = {day for day in days("empty") | days("no report") if date(2017, 3, 30) <= day <= date(2017, 5, 31)}
    assert len(spring) == 63
    (empty,) = inria().found.empty
    assert empty.calls == 22


def test_the_bedrooms_quiet_days_in_september_are_no_nights_out():
    out = [each for each in inria().left_out if each.reason == "detector out"]
    assert {part for each in out for part in each.parts} == {"bedroom_pir"}
    lengths = [round((each.end_ms - each.start_ms) / DAY_MS, 1) for each in out]
    assert lengths[1:] == pytest.approx([3.9, 4.8, 3.5], abs=0.06)


def test_each_part_is_recognised_for_what_it_is():
    told = " ".join(trust_sentences(inria()))
    for part in ("bathroom_pir", "kitchen_pir", "entrance_door", "cupboard_door", "fridge_door"):
        assert f"{part} has been dead since" in told
    assert "shower_pir became bathroom_pir on Wed 1 Mar 2017" in told
    assert "entrance_door has been dead since Sun 16 Jul 2017 07:39 and would say open for ever" in told
    assert "somebody came by 22 times" in " ".join(left_out_sentences(inria()))


def test_the_door_is_believed_until_it_died():
    at = {day.date: day.start_ms for day in inria().days}
    assert inria().trusted("entrance_door.open", at[date(2017, 6, 20)])
    assert not inria().trusted("entrance_door.open", at[date(2017, 8, 20)])
    assert not inria().trusted("entrance_door.open", at[date(2017, 3, 10)])  # stood open for eight days


def test_no_detector_of_any_home_reports_for_a_day_without_a_rest():
    assert [
        (name, signal)
        for name in LOGS
        for signal in life_signals(record(name), None)
        for _ in chatter(record(name), signal)
    ] == []


def test_dead_detectors_are_not_blamed_on_the_person():
    # In November and December movement halves; two dead detectors explain much of it (README of the collection).
    assert drift(inria()) == []


def test_what_was_known_in_july_does_not_know_of_the_winter():
    known = clean(known_by(record(INRIA), next(day.start_ms for day in inria().days if day.date == date(2017, 7, 20))))
    assert "kitchen_pir.movement" in known.life
    assert "bathroom_pir.movement" in known.life
    assert {dead.part for dead in known.found.dead} >= {"coffee_plug", "entrance_door"}
