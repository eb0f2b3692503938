"""The published methods beside what was learned, worked by hand: a sign at every full hour and one five minutes later.

Half the silences last 5 minutes and half 55, every day alike. So each method's figures can be worked out on paper.
"""

from math import log

import numpy as np
import pytest
from tests.unit.limits.lived import HOUR, MINUTE, at, learned_of, lived, record_of
from tests.unit.limits.row_home import TEXT

from stillwell.limits.cleaning import clean
from stillwell.limits.proposal import Asked, propose
from stillwell.limits.published.lived import Lived
from stillwell.limits.published.methods import METHODS, walk
from stillwell.limits.realised import signs_of_record
from stillwell.limits.table import LimitTable
from stillwell.plan.read import read_plan
from stillwell.replay.distribution import NEVER_MS

pytestmark = pytest.mark.base

DAYS = 44


def slow(cleaned, budgets):
    return [learned_of(LimitTable((), 12 * HOUR), budget, len(cleaned.used)) for budget in budgets]


@pytest.fixture(scope="module")
def found():
    signs = [at(day, hour) + extra for day in range(DAYS) for hour in range(24) for extra in (0, 5 * MINUTE)]
    record = record_of({"lounge_pir.movement": signs}, (at(0), at(DAYS)))
    return propose(read_plan(TEXT, "home.toml"), record, Asked(), learner=slow)


def judged(found, name):
    (choice,) = (each for each in found.choices if each.method is not None and each.method.name == name)
    return choice.judged


def test_each_is_there_once_at_its_published_setting_and_judged_on_the_days_of_the_rest(found):
    published = [each for each in found.choices if each.kind == "published"]
    assert [(each.method, each.size) for each in published] == [(method, method.published) for method in METHODS]
    assert [method.published for method in METHODS] == [1, 0.1, 0.01, 0.01, 1.1]
    assert {each.judged.days for each in found.choices} == {DAYS - DAYS // 3}
    assert {each.judged.whole.weight_s for each in found.choices} == {(DAYS - DAYS // 3) * 86_400}


def test_cuddihy_tells_at_the_next_full_hour(found):
    # At full hours it has been silent for 0 min, at half past for 25. M = 25 throughout, so the line is
    # 25 + 0.4 x 25 x (2 + 2) / 9 = 29.4 min at full hours, and 25 + 0.3 x 25 + 0.4 x 25 x (1 + 3 + 1) / 9 = 38.1 at
    # half past. After five past it is 25 min at half past, 55 at the full hour: told, just as the next sign comes.
    # After the full hour it is 30 min at half past, and 60 at the next. So within the hour somebody is told.
    told = judged(found, "Cuddihy 2007")
    assert told.false.count == 0
    assert (told.whole.median, told.whole.p95, told.whole.max) == pytest.approx((1800, 57 * 60, 3600))


def test_floeck_and_litz_stay_a_tenth_above_the_highest_spike(found):
    # Every five minutes it has been silent for 0, 0, 5, 10, ... 50 min. numpy fits the curve to one day, for all are
    # alike; the highest spike is the end of a silence of 55 min, wherever the curve is lowest at a full hour.
    clock, hours = np.arange(288) / 288, np.arange(24) / 24
    curve = np.polynomial.Polynomial.fit(clock, np.tile([0, *range(0, 55, 5)], 24), 4)
    line = curve(hours) + 1.1 * (55 - curve(hours).min())
    told = judged(found, "Floeck-Litz 2009")
    assert told.false.count == 0
    # silent since a full hour, the alarm comes about an hour later, where the curve is nearly what it is there
    assert told.whole.max == pytest.approx(line.max() * 60, rel=0.02)


def test_moshtaghis_two_tails_by_hand(found):
    # Three silences touch each hour: the one of 55 min that ends as it begins, one of 5, and one of 55 min. The last
    # 50 are 33 of 55 min and 17 of 5. Exponential: std / mean stays below 1, so the median of all is 55 min.
    told = judged(found, "Moshtaghi 2015, exponential")
    assert told.whole.max == pytest.approx(55 * 60 / log(2) * log(100))
    # Pareto: 5 min x 100 ** (33 ln 11 / 50) are five days, further than is looked ahead
    never = judged(found, "Moshtaghi 2015, Pareto")
    assert never.false.count == 0
    assert never.whole.median is None
    assert never.whole.never_share == 1


def test_wilhelm_and_wahl_tell_a_tenth_after_the_longest(found):
    told = judged(found, "Wilhelm-Wahl 2024")
    assert told.whole.max == pytest.approx(1.1 * 55 * 60)
    assert told.false.count == 0


def test_where_nothing_can_be_learned_nobody_is_told():
    times = np.array([at(day, 12) for day in range(3)], np.int64)
    days = np.array([(at(day), at(day + 1)) for day in range(3)], np.int64)
    none, number = np.zeros(3, bool), np.arange(3)
    alone = Lived(
        times, times + HOUR, np.zeros(3, np.int64), ("hall_pir",), np.append(times[1:], at(3)), none, days, number
    )
    for method in METHODS:
        assert (walk(method.tell, alone, range(1, 3), [method.published]) == NEVER_MS).all()


def test_a_silence_that_is_not_judged_is_not_learned_from():
    away = [(at(20, 9), at(25, 18))]
    record = lived(40, away=away)
    names = list(record.signals)
    found = signs_of_record(clean(record, names), names).lived
    assert len(found.days) == 40 - 6
    assert found.lengths[found.judgeable].max() < 12 * HOUR
    assert found.lengths.max() > 5 * 24 * HOUR
    past = found.past(len(found.days) - 1)
    assert found.lengths[past.over].max() < 12 * HOUR
    assert (found.ends[past.over] < past.midnight_ms).all()
