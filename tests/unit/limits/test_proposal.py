"""From a record to a proposal, and the records from which nothing may be learned."""

import numpy as np
import pytest
from tests.unit.limits.lived import HOUR, MINUTE, ROOMS, START, at, learned_of, lived, record_of, with_signals
from tests.unit.limits.row_home import TEXT

from stillwell.limits.proposal import Asked, propose
from stillwell.limits.table import LimitRow, LimitTable
from stillwell.plan.read import read_plan
from stillwell.plan.texts import EVERY_DAY
from stillwell.problem import Refusal
from stillwell.record.columns import Pulses

pytestmark = pytest.mark.base

PLAN = read_plan(TEXT, "home.toml")
NAMES = [f"{room}_pir.movement" for room in ROOMS]


def slow(cleaned, budgets):
    """Stand in for the learner: limits so long that nothing is false, longer for rarer alarms."""
    row = LimitRow((), 0, 1440, EVERY_DAY, 10 * HOUR)
    days = len(cleaned.used)
    return [learned_of(LimitTable((row,), 12 * HOUR), budget, days) for budget in budgets]


def learned(record, **asked):
    return propose(PLAN, record, Asked(**asked), learner=slow)


def refused(record, **asked):
    with pytest.raises(Refusal) as found:
        learned(record, **asked)
    return {problem.code for problem in found.value.problems}


def test_a_quiet_record_carries_what_its_days_can_carry():
    found = learned(lived(120), question_days=30, call_days=180)
    assert found.question.judged.days == 120 - 28
    assert found.question.judged.false.count == 0
    assert found.question.support.shown  # 92 days, and 30 * 3.0 = 90 are needed
    assert found.call.support.more_days == 540 - 92
    assert not found.call.support.shown


def test_choices_are_judged_on_the_same_days():
    found = learned(lived(60))
    assert {choice.judged.days for choice in found.choices} == {60 - 20}
    by_name = {(choice.kind, choice.size): choice.judged for choice in found.choices}
    assert by_name["fixed", 4].false.count > by_name["fixed", 6].false.count >= by_name["fixed", 12].false.count == 0
    assert by_name["once a day", 12].whole.max > by_name["fixed", 24].whole.max * 0.99


def test_one_day_teaches_nothing():
    assert refused(lived(1)) == {"too-few-days"}


def test_a_week_that_counts_is_the_least():
    assert refused(lived(6)) == {"too-few-days"}
    assert learned(lived(8)).question.learned.days == 8


def test_days_left_out_do_not_help():
    assert refused(lived(30, away=[(at(5, 12), at(29))])) == {"too-few-days"}


def test_a_record_without_movement_teaches_nothing():
    assert refused(record_of({"kettle.power": []}, (at(0), at(30)))) == {"no-life"}
    assert refused(record_of({name: [] for name in NAMES}, (at(0), at(30)))) == {"too-few-days"}


def test_a_plan_without_a_sign_of_life_is_refused():
    bare = PLAN.model_copy(update={"signals": {}})
    with pytest.raises(Refusal) as found:
        propose(bare, lived(30), Asked(), learner=slow)
    assert [problem.code for problem in found.value.problems] == ["no-sign-of-life"]


def test_a_detector_stuck_to_the_end_is_refused_by_name():
    record = lived(30)
    noise = np.arange(at(27), at(30), 7 * MINUTE)
    times = np.union1d(record.signals["lounge_pir.movement"].times, noise)
    stuck = with_signals(record, lounge_pir__movement=Pulses(times))
    with pytest.raises(Refusal) as found:
        learned(stuck)
    (problem,) = found.value.problems
    assert problem.code == "stuck"
    assert "lounge_pir.movement" in problem.what


def test_one_that_was_stuck_for_a_while_is_only_left_out():
    record = lived(40)
    noise = np.arange(at(12), at(14), 7 * MINUTE)
    times = np.union1d(record.signals["lounge_pir.movement"].times, noise)
    found = learned(with_signals(record, lounge_pir__movement=Pulses(times)))
    assert [each.signal for each in found.chattering] == ["lounge_pir.movement"]


def two_residents(days=60):
    one, other = lived(days, seed=1), lived(days, seed=2, rise=7.5)
    return record_of({name: np.union1d(one.signals[name].times, other.signals[name].times) for name in NAMES}, one.span)


def test_two_residents_are_refused_unless_somebody_knows_better():
    # bedroom and kitchen, bathroom and lounge, bedroom and lounge have a room between them
    assert refused(two_residents()) == {"not-alone"}
    found = learned(two_residents(), alone=True)
    assert found.company.shared


def test_everything_that_is_wrong_is_said_at_once():
    record = lived(5)
    noise = np.arange(at(2), at(5), 7 * MINUTE)
    times = np.union1d(record.signals["lounge_pir.movement"].times, noise)
    assert refused(with_signals(record, lounge_pir__movement=Pulses(times))) == {"too-few-days", "stuck"}


def test_days_marked_by_the_keeper_are_not_learned_from():
    found = propose(PLAN, lived(40), Asked(), visits=[(at(20, 10), at(21, 18))], learner=slow)
    assert [(day.date - START).days for day in found.cleaned.days if day.left_out == "visitor"] == [20, 21]


def test_it_says_how_far_it_is_and_is_not_done_before_the_published_methods_are():
    told = []
    propose(PLAN, lived(40), Asked(), learner=slow, progress=told.append)
    assert told == sorted(told)
    assert told[-1] == 1.0
    assert sum(share < 1.0 for share in told) == len(told) - 1


def test_the_family_is_never_called_before_the_resident_is_asked():
    def hasty(cleaned, budgets):
        table = [LimitTable((LimitRow((), 0, 1440, EVERY_DAY, h * HOUR),), 12 * HOUR) for h in (9, 5)]
        chosen = [table[1 if budget == min(budgets) else 0] for budget in budgets]
        return [learned_of(each, budget, 30) for each, budget in zip(chosen, budgets, strict=True)]

    found = propose(PLAN, lived(40), Asked(30, 180), learner=hasty)
    assert {row.limit_ms for row in found.call.learned.table.rows} == {9 * HOUR}
    assert found.call.judged.whole.median >= found.question.judged.whole.median


def test_with_the_real_learner_limits_follow_the_clock():
    found = propose(PLAN, lived(40), Asked(longest_ms=14 * HOUR))
    table = found.question.learned.table
    local = np.array([(4 * 24 + hour) * HOUR for hour in (12, 23)], np.int64)
    noon, night = table.limits(["kitchen_pir"], np.zeros(2, np.int64), local).tolist()
    # by day somebody moves every few minutes, at night nobody for two hours and more
    assert noon < night <= 14 * HOUR
    # the way out is in the lounge, and nobody can tell an outing from lying there
    assert table.limits(["lounge_pir"], np.zeros(1, np.int64), local[:1])[0] >= 8 * HOUR
