from itertools import pairwise

import pytest

from stillwell.simulate.agenda import Stretch
from stillwell.simulate.draws import stream
from stillwell.simulate.habits import Phase
from stillwell.simulate.house import house_of
from stillwell.simulate.walk import walk_through

pytestmark = pytest.mark.base

HOUR_MS = 3_600_000


def stretches(*phases, hours=3):
    return [
        Stretch(index * hours * HOUR_MS, (index + 1) * hours * HOUR_MS, phase, 1.0)
        for index, phase in enumerate(phases)
    ]


def walked(cabin, *phases, seed=1, **options):
    return walk_through(house_of(cabin), stretches(*phases), stream(seed), **options)


def test_stays_follow_each_other_and_only_doors_lie_between_them(cabin):
    walk = walked(cabin, Phase.MORNING, Phase.FORENOON, Phase.AFTERNOON, Phase.EVENING)
    house = house_of(cabin)
    assert len(walk.stays) > 40
    for before, after in pairwise(walk.stays):
        assert before.start_ms < before.end_ms <= after.start_ms
        if before.room == after.room:
            assert before.end_ms == after.start_ms
        else:
            assert len(house.ways[before.room, after.room]) <= 2  # next door, or over the yard
            assert after.came


def test_the_night_is_spent_in_bed_but_for_short_walks(cabin):
    walk = walked(cabin, Phase.NIGHT, Phase.NIGHT, Phase.NIGHT)
    in_bed = sum(stay.end_ms - stay.start_ms for stay in walk.stays if stay.asleep)
    assert {stay.room for stay in walk.stays if stay.asleep} == {"back_room"}
    assert in_bed > 0.8 * 9 * HOUR_MS


def test_an_outing_leads_through_the_house_door_and_back(cabin):
    walk = walked(cabin, Phase.EVENING, Phase.OUT, Phase.SUPPER)
    (absence,) = walk.absences
    assert 3 * HOUR_MS <= absence.start_ms < 3.05 * HOUR_MS
    assert absence.end_ms == 6 * HOUR_MS
    used = [each for each in walk.passes if each.opening == "house_door" and each.at_ms >= 3 * HOUR_MS]
    assert used[0].at_ms < absence.start_ms
    assert used[1].at_ms == absence.end_ms
    by_the_door = [s for s in walk.stays if s.phase is Phase.OUT and not s.passing]
    assert [stay.room for stay in by_the_door] == ["kitchen", "kitchen"]  # coat on, coat off
    assert not any(stay.start_ms < absence.end_ms and absence.start_ms < stay.end_ms for stay in walk.stays)


def test_a_visitor_comes_and_leaves_by_the_house_door(cabin):
    walk = walked(cabin, Phase.GUEST, visitor=True)
    assert walk.passes[0].opening == walk.passes[-1].opening == "house_door"
    assert walk.passes[0].at_ms == 0
    assert walk.passes[-1].at_ms >= 3 * HOUR_MS


def test_the_long_stays_of_a_phase_are_rare_and_much_longer_than_its_median(cabin):
    walk = walk_through(house_of(cabin), [Stretch(0, 2_000 * HOUR_MS, Phase.FORENOON, 1.0)], stream(3))
    lengths = sorted(stay.end_ms - stay.start_ms for stay in walk.stays if stay.room == "kitchen")
    median, nearly_all = lengths[len(lengths) // 2], lengths[len(lengths) * 99 // 100]
    assert nearly_all > 8 * median


def test_a_quick_day_has_more_moves(cabin):
    slow, quick = (
        len(walk_through(house_of(cabin), [Stretch(0, 300 * HOUR_MS, Phase.AFTERNOON, pace)], stream(1)).stays)
        for pace in (0.5, 2.0)
    )
    assert quick > 1.4 * slow
