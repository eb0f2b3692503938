import numpy as np
import pytest

from stillwell.problem import Refusal
from stillwell.record.columns import FALSE, TRUE, Pulses
from stillwell.record.text import read_text, write_text

pytestmark = pytest.mark.base

BY_HAND = """
# zone: Europe/London
# An invented morning.

time,signal,value
2026-01-05T07:12:30.250Z,hall_pir.movement,
2026-01-05T08:13:00+01:00,front_door.open,true
2026-01-05T07:13:09Z,front_door.open,false
2026-01-05T07:20:00.000Z,hall_air.temperature,18.5
"""


def test_a_timeline_written_by_hand():
    record = read_text(BY_HAND.splitlines())
    assert record.zone == "Europe/London"
    assert isinstance(record.signals["hall_pir.movement"], Pulses)
    first = int(record.signals["hall_pir.movement"].times[0])
    door = record.signals["front_door.open"]
    assert (door.times - first).tolist() == [29_750, 38_750]
    assert door.values.tolist() == [TRUE, FALSE]
    assert record.signals["hall_air.temperature"].values.tolist() == [18.5]
    assert record.span == (first, first + 449_751)
    assert record.events == 4


def test_an_imported_record_comes_back_as_it_was(invented):
    back = read_text(write_text(invented.record))
    assert (back.zone, back.span, back.gaps, back.events) == (
        invented.record.zone,
        invented.record.span,
        invented.record.gaps,
        invented.record.events,
    )
    for name, column in invented.record.signals.items():
        assert np.array_equal(back.signals[name].times, column.times)


@pytest.mark.parametrize(
    ("good", "bad", "what", "line"),
    [
        ("# zone: Europe/London\n", "", "the time zone is missing", 1),
        ("Europe/London", "Europe/Londn", "no time zone Europe/Londn", 2),
        ("time,signal,value", "when,signal,value", "the heading time,signal,value must stand above", 5),
        ("07:12:30.250Z", "07:12:30.250", "no time with Z or an offset", 6),
        ("hall_pir.movement", "Hall PIR", "'Hall PIR' is no name of a signal", 6),
        ("18.5", "warm", "'warm' is no value", 9),
        ("false", "12", "front_door.open was a level above and is a number here", 8),
        ("2026-01-05T07:13:09Z", "2026-01-05T07:13:00Z", "reports twice", 8),
        ("movement,", "movement,,,", "three columns", 6),
        ("# An invented morning.", "# span: 2026-01-06T00:00:00Z 2026-01-05T00:00:00Z", "ends before it starts", 3),
        ("# An invented morning.", "# span: yesterday", "about the span cannot be read", 3),
        ("# An invented morning.", "# gap: 1 2", "about the gap cannot be read", 3),
    ],
)
def test_a_mistake_is_told_with_its_line(good, bad, what, line):
    assert good in BY_HAND
    with pytest.raises(Refusal) as caught:
        read_text(BY_HAND.replace(good, bad, 1).splitlines(), "morning.csv")
    problem = caught.value.problems[0]
    assert what in problem.what
    assert (problem.place.file, problem.place.line) == ("morning.csv", line)
    assert problem.remedy


def test_rows_outside_of_the_span_are_refused():
    span = "# span: 2026-01-05T07:13:00Z 2026-01-06T00:00:00Z"
    with pytest.raises(Refusal, match="outside of the span"):
        read_text(BY_HAND.replace("# An invented morning.", span).splitlines())


def test_an_empty_text_is_refused():
    with pytest.raises(Refusal, match="the time zone is missing"):
        read_text([])
    with pytest.raises(Refusal, match="this record is empty"):
        read_text(["# zone: UTC", "time,signal,value"])


def test_mistakes_come_at_once_but_not_without_end():
    rows = ["# zone: UTC", "time,signal,value", *["yesterday,hall_pir.movement,"] * 100]
    with pytest.raises(Refusal) as caught:
        read_text(rows)
    assert len(caught.value.problems) == 20
