from datetime import date
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest

from stillwell.simulate.agenda import Stretch, agenda_of, overlaid
from stillwell.simulate.draws import stream
from stillwell.simulate.habits import AWAY, HABITS, Phase

pytestmark = pytest.mark.base

HOUR_MS = 3_600_000
PARIS = ZoneInfo("Europe/Paris")


def drawn(seed, days, start=date(2026, 1, 5), zone=PARIS):
    return agenda_of(zone, start, days, stream(seed, "agenda"))


@pytest.mark.parametrize("seed", range(6))
def test_the_days_are_filled_without_hole_or_overlap(seed):
    agenda = drawn(seed, 60)
    assert agenda.resident[0].start_ms == agenda.span[0]
    assert agenda.resident[-1].end_ms == agenda.span[1]
    assert all(before.end_ms == after.start_ms for before, after in pairwise(agenda.resident))
    assert {each.phase for each in agenda.resident} <= set(HABITS) | AWAY


def test_a_long_stay_has_one_holiday_of_two_nights_and_a_short_one_none():
    agenda = drawn(3, 40)
    (holiday,) = agenda.holiday
    away = [each for each in agenda.resident if each.phase is Phase.HOLIDAY]
    assert [(each.start_ms, each.end_ms) for each in away] == [holiday]
    assert 40 * HOUR_MS < holiday[1] - holiday[0] < 72 * HOUR_MS
    assert drawn(3, 39).holiday == ()


def test_from_two_weeks_on_one_visitor_stays_the_night():
    nights = [visit for visit in drawn(2, 30).visits if any(each.phase is Phase.GUEST_NIGHT for each in visit)]
    assert len(nights) == 1
    assert not any(each.phase is Phase.GUEST_NIGHT for visit in drawn(2, 13).visits for each in visit)


@pytest.mark.parametrize("seed", range(6))
def test_nobody_visits_an_empty_home(seed):
    agenda = drawn(seed, 120)
    away = [each for each in agenda.resident if each.phase in AWAY]
    for visit in agenda.visits:
        assert not any(each.start_ms < visit[-1].end_ms and visit[0].start_ms < each.end_ms for each in away)


def test_the_routine_keeps_to_the_clock_on_the_wall_when_the_clocks_change():
    # 29 March 2026 is the last Sunday of March, when summer time begins in the European Union (Directive 2000/84/EC)
    agenda = drawn(5, 60, start=date(2026, 2, 27))
    change_ms = 1_774_746_000_000  # 2026-03-29 01:00 UTC
    rises = [each.start_ms for each in agenda.resident if each.phase is Phase.MORNING]
    utc_h = {
        side: [(at / HOUR_MS) % 24 for at in rises if (at < change_ms) is before]
        for side, before in (("winter", True), ("summer", False))
    }
    winter, summer = (sum(hours) / len(hours) for hours in utc_h.values())
    # an hour earlier by UTC; two means of 30 mornings that spread by 25 minutes differ by 6.5 min at one sigma
    assert winter - summer == pytest.approx(1.0, abs=0.35)


def test_a_routine_differs_from_person_to_person_and_from_day_to_day():
    def rises(seed):
        return [each.start_ms % (24 * HOUR_MS) for each in drawn(seed, 20).resident if each.phase is Phase.MORNING]

    assert len(set(rises(1))) > 15
    assert sum(rises(1)) != sum(rises(2))


def test_what_is_laid_over_a_stretch_cuts_it():
    day = [Stretch(0, 10, Phase.FORENOON, 1.0), Stretch(10, 20, Phase.LUNCH, 2.0)]
    cut = overlaid(day, [(3, 5, Phase.OUT), (8, 12, Phase.VISIT)])
    assert list(cut) == [
        Stretch(0, 3, Phase.FORENOON, 1.0),
        Stretch(3, 5, Phase.OUT, 1.0),
        Stretch(5, 8, Phase.FORENOON, 1.0),
        Stretch(8, 10, Phase.VISIT, 1.0),
        Stretch(10, 12, Phase.VISIT, 2.0),
        Stretch(12, 20, Phase.LUNCH, 2.0),
    ]


def test_a_visitor_does_not_wake_the_resident_but_a_holiday_does():
    night = [Stretch(0, 10, Phase.NIGHT, 1.0)]
    assert list(overlaid(night, [(2, 4, Phase.VISIT)])) == night
    assert [each.phase for each in overlaid(night, [(2, 4, Phase.HOLIDAY)])] == [
        Phase.NIGHT,
        Phase.HOLIDAY,
        Phase.NIGHT,
    ]
