"""What a record held, and what its parts reported, in plain words. The words are ours: worked by hand."""

from datetime import date, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from tests.smallest import plan_of

from stillwell.record.columns import FALSE, TRUE, UNKNOWN, Pulses, Steps
from stillwell.replay.day_facts import DayFacts
from stillwell.wording.recorded import dates_words, days_sentence, out_cell, quiet_cell
from stillwell.wording.reports import report_words, second_words, signal_words, stretch_words
from stillwell.wording.vocabulary import vocabulary

pytestmark = pytest.mark.base

LONDON = ZoneInfo("Europe/London")
MONDAY, TUESDAY = date(2026, 1, 5), date(2026, 1, 6)
PARTS = {
    "hall_pir": {"kind": "movement", "room": "hall"},
    "contact": {"kind": "contact", "opening": "front_door", "room": "hall"},
    "probe": {"kind": "temperature", "room": "hall"},
    "tray": {"kind": "water", "room": "hall"},
}
WORDS = vocabulary(
    plan_of(
        rooms={"hall": {"outline": [[0, 0], [1, 0], [1, 1]]}},
        openings={"front_door": {"kind": "door", "rooms": ["hall", "outside"]}},
        parts=PARTS,
    )
)


def at(day, hour, minute=0):
    return int(datetime(day.year, day.month, day.day, hour, minute, tzinfo=LONDON).timestamp() * 1000)


def facts(day, signs=3, first=7, last=22, quiet=(1, 7), out=()):
    span = (at(day, 0), at(day, 23, 59))
    spans = tuple((at(day, a), at(day, b)) for a, b in out)
    return DayFacts(day, span, signs, at(day, first), at(day, last), (at(day, quiet[0]), at(day, quiet[1])), spans)


class TestDays:
    def test_what_some_days_held(self):
        found = days_sentence([facts(MONDAY, out=[(9, 11)]), facts(TUESDAY, first=6, quiet=(0, 8))], 1, LONDON)
        assert found == (
            "2 days: movement on each of them; the first after 04:00 between 06:00 and 07:00; "
            "the longest quiet at home 8 h, from Tue 6 Jan 2026 00:00; probably out once, 2 h in all; 1 alarm."
        )

    def test_one_day_is_told_as_one(self):
        assert days_sentence([facts(MONDAY)], 0, LONDON).startswith("Movement; the first after 04:00 at 07:00;")

    def test_days_without_life_say_so(self):
        nothing = DayFacts(MONDAY, (at(MONDAY, 0), at(TUESDAY, 0)), 0, None, None, None, ())
        assert days_sentence([nothing], 0, LONDON) == "No movement was recorded on these days."
        assert days_sentence([nothing, facts(TUESDAY)], 0, LONDON).startswith("2 days: movement on 1 day;")

    def test_cells(self):
        assert quiet_cell((at(MONDAY, 22), at(TUESDAY, 6, 30)), LONDON) == "8 h 30 min, 22:00 to 06:30"
        assert quiet_cell(None, LONDON) == "-"
        assert out_cell([(0, 3_600_000), (0, 1_800_000)]) == "twice, 1 h 30 min"
        assert out_cell([]) == "-"

    def test_dates(self):
        assert dates_words(MONDAY, TUESDAY) == "Mon 5 Jan to Tue 6 Jan 2026"
        assert dates_words(date(2025, 12, 31), date(2026, 1, 1)) == "Wed 31 Dec 2025 to Thu 1 Jan 2026"
        assert dates_words(MONDAY, MONDAY) == "Mon 5 Jan 2026"


class TestReports:
    DAY = (at(MONDAY, 0), at(TUESDAY, 0))

    def test_pulses_are_counted(self):
        times = np.array([at(MONDAY, 6), at(MONDAY, 8), at(TUESDAY, 9)], np.int64)
        assert stretch_words(Pulses(times), self.DAY, LONDON) == "twice, 06:00 to 08:00"
        assert stretch_words(Pulses(times[:1]), self.DAY, LONDON) == "once, 06:00"
        assert stretch_words(Pulses(times[2:]), self.DAY, LONDON) == "nothing reported"

    def test_levels_are_counted_and_summed(self):
        times = np.array([at(MONDAY, hour) for hour in (6, 7, 8, 9)], np.int64)
        column = Steps(times, np.array([TRUE, FALSE, TRUE, FALSE], np.int8))
        assert stretch_words(column, self.DAY, LONDON) == "twice, 2 h in all"
        assert stretch_words(column, (at(MONDAY, 10), at(MONDAY, 11)), LONDON) == "never"

    def test_a_level_that_came_in_true_counts_once(self):
        column = Steps(np.array([at(MONDAY, 6)], np.int64), np.array([TRUE], np.int8))
        assert stretch_words(column, (at(MONDAY, 7), at(MONDAY, 8)), LONDON) == "once, 1 h in all"

    def test_numbers_are_told_from_least_to_greatest(self):
        column = Steps(np.array([at(MONDAY, 6), at(MONDAY, 7)], np.int64), np.array([19.25, 21.0]))
        assert stretch_words(column, self.DAY, LONDON, "C") == "19.25 to 21 °C"

    @pytest.mark.parametrize(
        ("name", "value", "said"),
        [
            ("contact.open", TRUE, "the front door is open"),
            ("contact.open", FALSE, "the front door is not open"),
            ("contact.open", UNKNOWN, "the front door open: unknown"),
            ("tray.wet", TRUE, "there is water in the hall"),
            ("tray.wet", FALSE, "there is no water in the hall"),
            ("elsewhere.on", TRUE, "elsewhere on: yes"),
        ],
    )
    def test_one_report_of_a_level(self, name, value, said):
        column = Steps(np.array([0], np.int64), np.array([value], np.int8))
        assert report_words(name, column, 0, WORDS) == said

    def test_one_report_of_a_number_or_a_pulse(self):
        number = Steps(np.array([0, 1], np.int64), np.array([20.5, np.nan]))
        assert report_words("probe.temperature", number, 0, WORDS, "C") == "the temperature in the hall: 20.5 °C"
        assert report_words("probe.temperature", number, 1, WORDS, "C") == "the temperature in the hall: unknown"
        assert report_words("hall_pir.movement", Pulses(np.array([0], np.int64)), 0, WORDS) == "movement in the hall"

    def test_signals_have_names(self):
        assert signal_words("contact.open", WORDS) == "the front door open"
        assert signal_words("tray.wet", WORDS) == "water in the hall"
        assert signal_words("who.knows", WORDS) == "who knows"

    def test_a_time_to_the_second(self):
        assert second_words(LONDON, at(MONDAY, 7, 12) + 3250) == "07:12:03.250"
        assert second_words(LONDON, at(MONDAY, 7, 12)) == "07:12:00"
