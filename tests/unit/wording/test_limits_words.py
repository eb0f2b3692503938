"""What a daughter reads of learned limits."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from tests.unit.limits.lived import DAY, HOUR, MINUTE, at, learned_of, lived, record_of, with_signals
from tests.unit.limits.row_home import TEXT

from stillwell.limits.cleaning import clean
from stillwell.limits.drift import Moved
from stillwell.limits.proposal import Asked, Choice, Limit, propose
from stillwell.limits.published.methods import METHODS
from stillwell.limits.realised import Judged
from stillwell.limits.relearn import Night
from stillwell.limits.support import support
from stillwell.limits.table import LimitRow, LimitTable
from stillwell.plan.limits import LimitTable as PlanTable
from stillwell.plan.read import read_plan
from stillwell.plan.texts import EVERY_DAY
from stillwell.record.columns import Pulses
from stillwell.replay.distribution import Spread
from stillwell.replay.rates import rate
from stillwell.wording.cleaning import days_sentence, left_out_sentences, trust_sentences
from stillwell.wording.limits import (
    Line,
    choice_mark,
    choice_row,
    limit_cells,
    lines,
    moved_sentence,
    notice_sentence,
    places,
    promise_sentences,
    support_sentence,
    warning_sentences,
    way_name,
    why_sentence,
)
from stillwell.wording.nights import night_sentence, unproved_sentence

pytestmark = pytest.mark.base

ROOT = Path(__file__).parents[3]
PLAN = read_plan(TEXT, "home.toml")
TABLE = LimitTable((LimitRow(("bedroom_pir",), 0, 420, EVERY_DAY, 8 * HOUR + 30 * MINUTE),), 12 * HOUR)


def spread(median_h, p95_h, max_h):
    return Spread(median_h * 3600, p95_h * 3600, max_h * 3600, None, 0.0, 0.0, 1.0)


def judged(alarms, days):
    return Judged(days, rate(alarms, days * DAY), (), spread(4, 9, 12), spread(3, 5.5, 9))


def limit(budget_days, alarms, days):
    learned = learned_of(TABLE, 1 / budget_days, 150)
    return Limit(budget_days, learned, judged(alarms, days), support(budget_days, alarms, days))


def test_a_promise_with_what_came_of_it():
    assert list(promise_sentences(limit(60, 2, 154))) == [
        "Promised: at most 1 in 60 days.",
        # 2 in 154 days is 0.39 in 30 days; exact interval 0.2422 to 7.2247 (Garwood 1936) by 154 / 30
        "On 154 days that the limits were not learned from there were 2 false alarms: 0.39 (0.047 to 1.4) in 30 days.",
        (
            "The record cannot carry this promise: it shows no better than 1 in 24 days, 95 % sure. "
            "224 more quiet days would show it."
        ),
    ]


def test_a_promise_that_is_carried():
    assert support_sentence(support(30, 0, 90), None) == "The record carries this promise, 95 % sure."


def test_a_promise_that_the_record_speaks_against():
    found = limit(180, 9, 100)
    said = support_sentence(found.support, found.judged)
    assert said.startswith("The record speaks against this promise")


def test_a_promise_that_could_not_be_tried():
    found = Limit(30, learned_of(TABLE, 1 / 30, 8), None, support(30, 0, 0))
    assert list(promise_sentences(found))[1:] == [
        "Not tried: the record has no days left to try it on.",
        "The record cannot carry this promise: 90 more quiet days would show it, 95 % sure.",
    ]


def test_how_soon_it_is_noticed():
    assert notice_sentence(judged(0, 100)) == (
        "Silence that begins at any moment raises the alarm: half the time after 4 h, 19 times in 20 after 9 h, at "
        "the longest after 12 h. If it begins between 08:00 and 22:00: after 3 h and 5 h 30 min."
    )


def test_a_row_of_the_choices():
    assert choice_row(Choice("fixed", 8, judged(2, 60))) == [
        "fixed, 8 h", "1", "0.12 to 3.6", "4.0 h", "9.0 h", "12.0 h", "3.0 h", "5.5 h"
    ]  # fmt: skip
    assert choice_row(Choice("learned", 60, judged(0, 60)))[0] == "learned, 1 in 60 days"
    assert choice_row(Choice("once a day", 12, judged(0, 60)))[0] == "a look a day at 08:00"
    assert choice_row(Choice("published", 1.0, judged(0, 60), METHODS[0]))[0] == "Cuddihy 2007"
    never = replace(judged(1, 60), whole=Spread(90 * 3600, None, None, None, 0.2, 0.0, 1.0))
    assert choice_row(Choice("published", 0.01, never, METHODS[2]))[3:6] == ["90.0 h", "never", "never"]


def test_beside_a_point_stands_only_its_setting():
    fixed, learned = Choice("fixed", 8, judged(2, 60)), Choice("learned", 60, judged(2, 60))
    published = Choice("published", 1.0, judged(0, 60), METHODS[0])
    assert [choice_mark(each) for each in (learned, fixed, published)] == ["1 in 60 d", "8 h", ""]
    assert [way_name(each) for each in (learned, fixed, published)] == [
        "learned limits",
        "fixed limits",
        "Cuddihy 2007",
    ]


def test_a_table_is_read_off_at_a_few_hours():
    assert limit_cells(TABLE, Line("bedroom_pir", "bedroom", 0), (0, 6, 7, 23)) == ["8 h 30", "8 h 30", "12 h", "12 h"]


def test_days_are_told_apart_only_where_their_limits_are():
    sunday, others = frozenset((6,)), frozenset(range(6))
    apart = (LimitRow(("lounge_pir",), 0, 1440, sunday, 9 * HOUR), LimitRow(("lounge_pir",), 0, 1440, others, 3 * HOUR))
    table = LimitTable((*TABLE.rows, *apart), 12 * HOUR)
    assert list(lines(PLAN, TABLE, table)) == [
        Line("bedroom_pir", "bedroom", 0),
        Line("lounge_pir", "lounge, Mon to Sat", 0),
        Line("lounge_pir", "lounge, Sun", 6),
    ]
    assert limit_cells(table, Line("lounge_pir", "lounge, Sun", 6), (12,)) == ["9 h"]


def rows_for(*groups):
    return LimitTable(tuple(LimitRow(group, 0, 1440, EVERY_DAY, HOUR) for group in groups), 12 * HOUR)


def test_a_part_is_named_by_its_room_where_that_is_enough():
    table = rows_for(("lounge_pir",), ("bedroom_pir",), ("not_there",))
    named = [("bedroom_pir", "bedroom"), ("lounge_pir", "lounge"), ("not_there", "not there")]
    assert places(PLAN, table) == named
    assert places(PLAN, rows_for(("lounge_pir",), ())) == [("lounge_pir", "lounge"), ("", "elsewhere")]
    assert places(PLAN, LimitTable((), HOUR)) == [("", "elsewhere")]


def test_a_part_at_a_door_is_named_by_the_door_not_by_the_room_behind_it():
    cottage = read_plan((ROOT / "examples/cottage/home.toml").read_text("utf-8"), "home.toml")
    table = rows_for(("hall_pir",), ("front_contact",), ("back_contact",), ("kettle",), ("fridge_contact",))
    assert places(cottage, table) == [
        ("back_contact", "back door"),
        ("fridge_contact", "fridge contact"),  # the kitchen has two of them
        ("front_contact", "front door"),
        ("hall_pir", "hall"),
        ("kettle", "kettle"),
    ]


@pytest.mark.parametrize(
    ("moved", "said"),
    [
        (Moved("begins", 416, 467, (40, 14)), "the day begins at 07:47 rather than 06:56"),
        (Moved("ends", 1380, 1450, (40, 14)), "the day ends at 00:10 rather than 23:00"),
        (Moved("signs", 244.4, 124, (40, 14)), "there are 124 signs of life a day rather than 244"),
        (Moved("silence by day", 90, 200, (40, 14)), "the longest silence by day is 3 h 20 min rather than 1 h 30 min"),
    ],
)
def test_what_moved_is_said_in_hours_of_the_day(moved, said):
    assert moved_sentence(moved) == said


def slow(cleaned, budgets):
    return [learned_of(LimitTable((), 12 * HOUR), budget, len(cleaned.used)) for budget in budgets]


def test_few_days_are_a_warning():
    found = propose(PLAN, lived(10), Asked(), learner=slow)
    assert warning_sentences(found)[0].startswith("Only 10 days count")


def test_a_plan_that_cannot_tell_of_company_says_so():
    bare = PLAN.model_copy(update={"openings": {}})
    found = propose(bare, lived(30), Asked(), learner=slow)
    assert "Whether one person lives there cannot be told" in " ".join(warning_sentences(found))
    assert "Whether one person" not in " ".join(warning_sentences(propose(PLAN, lived(30), Asked(), learner=slow)))


def test_a_way_out_without_a_contact_is_told():
    (said,) = warning_sentences(propose(PLAN, lived(30), Asked(), learner=slow))
    assert said.startswith("No contact on an outside door tells of outings")


def test_a_promise_that_the_cap_forbids_is_told():
    def over(cleaned, budgets):
        return [replace(one, expected_per_day=0.1) for one in slow(cleaned, budgets)]

    said = warning_sentences(propose(PLAN, lived(30), Asked(30, 180), learner=over))
    assert [text.startswith("No limits keep the promise of 1 in ") for text in said][:2] == [True, True]
    assert "About 3 false alarms in 30 days" in said[0]


def test_where_the_figures_come_from():
    said = why_sentence(limit(60, 1, 154))
    assert said == "Learned from 150 days for at most 1 in 60 days false alarm; 1 false alarm on 154 other days."


def test_days_left_out_are_told_with_their_dates():
    record = lived(30, away=[(at(10, 12), at(13, 9))])
    cleaned = clean(record)
    assert days_sentence(cleaned) == "26 of 30 days count."
    (said,) = left_out_sentences(cleaned)
    assert said.startswith("4 days left out: nothing was reported for a long time")
    assert said.endswith("Thu 15 Jan 2026 to Sun 18 Jan 2026.")


def test_a_stuck_detector_is_told_as_one():
    record = lived(30)
    noise = np.union1d(record.signals["lounge_pir.movement"].times, np.arange(at(10), at(12), 7 * MINUTE))
    (said,) = trust_sentences(clean(with_signals(record, lounge_pir__movement=Pulses(noise))))
    assert said.startswith("lounge_pir reported without a rest from ")
    assert said.endswith("stuck, its reports are left out.")


def test_a_dead_detector_is_told_as_one():
    record = lived(60)
    times = record.signals["kitchen_pir.movement"].times
    (said,) = trust_sentences(clean(with_signals(record, kitchen_pir__movement=Pulses(times[times < at(30)]))))
    assert said.startswith("kitchen_pir has been dead since Tue 3 Feb 2026")


def test_callers_in_an_empty_home_are_told():
    record = lived(60, away=[(at(20, 18), at(41, 10))])
    calls = [at(day, 11) + minute * MINUTE for day in range(22, 40, 3) for minute in range(0, 40, 2)]
    pulses = {name: [*column.times.tolist()] for name, column in record.signals.items()}
    pulses["lounge_pir.movement"] += calls
    said = " ".join(left_out_sentences(clean(record_of(pulses, record.span))))
    assert "the home looks empty, and whoever called is not the resident" in said
    assert "somebody came by 6 times" in said


PLAN_TABLE = PlanTable.model_validate({"longest": "12h"})


@pytest.mark.parametrize(
    ("night", "said"),
    [
        (Night("call", "as it was", PLAN_TABLE, 90), "Learned anew from 90 days: nothing differs."),
        (Night("call", "too few days", PLAN_TABLE, 13), "13 days count, and 28 are needed."),
        (
            Night("call", "changed", PLAN_TABLE, 90, 1200, 15 * MINUTE, judged(1, 56), judged(0, 56)),
            (
                "Learned anew from 90 days: 1,200 limits moved by 15 min at most (one for each part and half-hour of "
                "the week). On the last 56 days: no false alarms and silence noticed after 4 h half the time, rather "
                "than 1 false alarm and silence noticed after 4 h half the time."
            ),
        ),
    ],
)
def test_what_a_night_came_to(night, said):
    assert night_sentence(night) == said


def test_a_night_that_the_proof_forbids():
    night = Night("call", "changed", PLAN_TABLE, 90, 12, 15 * MINUTE, judged(1, 56), judged(0, 56))
    assert unproved_sentence(night).endswith("told in time less often, so nothing was changed.")
