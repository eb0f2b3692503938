"""What a day held, worked by hand; local days by the standard library.

The clocks of 2026 in Britain go forward on 29 March (Summer Time Order 2002).
"""

from datetime import date, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from tests.smallest import alarm, plan_of

from stillwell.record.columns import Pulses, Record
from stillwell.replay.allowed import allowed, beyond
from stillwell.replay.day_facts import day_facts, day_of
from stillwell.replay.hours import hours_of, nights

pytestmark = pytest.mark.base

LONDON = ZoneInfo("Europe/London")
HOUR_MS = 3_600_000
MONDAY, TUESDAY = date(2026, 1, 5), date(2026, 1, 6)


def at(day, hour, minute=0):
    return int(datetime(day.year, day.month, day.day, hour, minute, tzinfo=LONDON).timestamp() * 1000)


def life(*instants):
    return np.array(instants, np.int64)


WHOLE = (at(MONDAY, 0), at(date(2026, 1, 8), 0))


def test_first_is_after_four_and_last_before_midnight():
    signs = life(at(MONDAY, 1), at(MONDAY, 7, 10), at(MONDAY, 22), at(TUESDAY, 8))
    monday, tuesday = day_facts(LONDON, [MONDAY, TUESDAY], signs, [], WHOLE)
    assert (monday.signs, monday.first_ms, monday.last_ms) == (3, at(MONDAY, 7, 10), at(MONDAY, 22))
    assert monday.quiet == (at(MONDAY, 7, 10), at(MONDAY, 22))
    assert tuesday.quiet == (at(TUESDAY, 8), at(date(2026, 1, 7), 0))


def test_a_night_belongs_to_the_day_on_which_it_ends():
    signs = life(at(MONDAY, 12), at(MONDAY, 21), at(TUESDAY, 9), at(TUESDAY, 16), at(TUESDAY, 23))
    tuesday = day_facts(LONDON, [TUESDAY], signs, [], WHOLE)[0]
    assert tuesday.quiet == (at(MONDAY, 21), at(TUESDAY, 9))


def test_an_outing_is_no_quiet_at_home():
    out = (at(MONDAY, 9), at(MONDAY, 17))
    signs = life(at(MONDAY, 6), *out, at(MONDAY, 20))
    monday = day_facts(LONDON, [MONDAY], signs, [out], WHOLE)[0]
    assert monday.out == (out,)
    assert monday.quiet == (at(MONDAY, 0), at(MONDAY, 6))


def test_a_day_outside_of_the_record_has_nothing():
    before = day_facts(LONDON, [date(2026, 1, 1)], life(), [], WHOLE)[0]
    assert (before.signs, before.first_ms, before.quiet, before.out) == (0, None, None, ())


def test_the_day_the_clocks_go_forward_is_23_hours_long():
    day = date(2026, 3, 29)
    found = day_facts(LONDON, [day], life(), [], WHOLE)[0]
    assert found.span[1] - found.span[0] == 23 * HOUR_MS
    assert day_of(LONDON, found.span[0]) == day


def test_nights_are_those_of_the_plan():
    plan = plan_of(home={"name": "x", "timezone": "Europe/London", "night": "between 22:30 and 06:30"})
    assert nights(plan, (at(MONDAY, 0), at(TUESDAY, 0))) == [
        (at(MONDAY, 0), at(MONDAY, 6, 30)),
        (at(MONDAY, 22, 30), at(TUESDAY, 0)),
    ]


def test_hours_of_a_person_follow_the_weekday():
    people = {"ben": {"name": "Ben", "channels": {"text": "1s"}, "reachable": "on tue and between 09:00 and 12:00"}}
    plan = plan_of(people=people)
    found = hours_of(plan, plan.people["ben"].reachable.formula, (at(MONDAY, 0), at(date(2026, 1, 12), 0)))
    assert found == [(at(TUESDAY, 9), at(TUESDAY, 12))]


class TestLimits:
    """After a sign by day 4 h are allowed, by night (from 22:00 to 07:00) 10 h; silence counts from the last sign."""

    PLAN = plan_of(
        parts={"pir": {"kind": "movement"}},
        signals={"sign_of_life": "pir.movement"},
        limits={
            "quiet": {"longest": "10h", "rows": [{"from": "07:00", "to": "22:00", "limit": "4h"}]},
        },
        alarm=[alarm("no sign_of_life for limit quiet")],
    )

    def found(self, *instants):
        record = Record("Europe/London", WHOLE, {"pir.movement": Pulses(life(*instants))})
        return allowed(self.PLAN, record, "quiet")

    def test_each_sign_has_the_limit_of_its_hour(self):
        found = self.found(at(MONDAY, 8), at(MONDAY, 23), at(TUESDAY, 12))
        assert (found.limits // HOUR_MS).tolist() == [4, 10, 4]

    def test_beyond_is_from_the_limit_to_the_next_sign_or_the_end(self):
        found = self.found(at(MONDAY, 8), at(MONDAY, 13), at(MONDAY, 16), at(MONDAY, 23), at(TUESDAY, 8))
        assert beyond(found, at(TUESDAY, 20)) == [
            (at(MONDAY, 12), at(MONDAY, 13)),
            (at(MONDAY, 20), at(MONDAY, 23)),
            (at(TUESDAY, 12), at(TUESDAY, 20)),
        ]

    def test_without_a_sign_there_is_nothing_beyond(self):
        assert beyond(self.found(), WHOLE[1]) == []
