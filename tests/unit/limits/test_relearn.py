"""Learning anew at night keeps within what the plan allows."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.unit.limits.lived import HOUR, MINUTE, ROOMS, learned_of, lived
from tests.unit.limits.row_home import TEXT

from stillwell.engine import columns
from stillwell.limits.cleaning import clean
from stillwell.limits.realised import signs_of_record, told_by
from stillwell.limits.relearn import PlanLimits, limits_of, parts_of, relearn, towards
from stillwell.limits.table import LimitRow, LimitTable
from stillwell.plan.model import Plan
from stillwell.plan.read import read_plan
from stillwell.plan.texts import EVERY_DAY
from stillwell.replay.run import replay

pytestmark = pytest.mark.base

BASE = read_plan(TEXT, "home.toml")
NAMES = [f"{room}_pir.movement" for room in ROOMS]


def plan_with(**table):
    """The home with a table of limits, and an alarm that waits for it."""
    data = BASE.model_dump(mode="json", by_alias=True, exclude_defaults=True)
    data["limits"] = {"call": {"longest": "12h", "one_false_in": "30d", "relearn": "15min"} | table}
    data["alarm"][0]["when"] = "no sign_of_life for limit call"
    return Plan.model_validate(data)


def flat(hours, longest=12):
    return LimitTable((LimitRow((), 0, 1440, EVERY_DAY, round(hours * HOUR)),), longest * HOUR)


def teaching(*hours):
    """Stand in for the learner."""
    return lambda cleaned, budgets: [learned_of(flat(*hours), budgets[0], len(cleaned.used))]


def every_limit(plan):
    table = plan.limits["call"]
    return np.stack([limits_of(plan, table, part) for part in parts_of(plan, table)])


def taken(plan, table):
    return plan.model_copy(update={"limits": {"call": table}})


def test_a_limit_moves_by_what_the_plan_allows_in_a_night():
    plan = plan_with(rows=[{"limit": "6h"}])
    table, changed, most_ms = towards(plan, plan.limits["call"], flat(4))
    assert (changed, most_ms) == (4 * 7 * 48, 15 * MINUTE)
    assert set(every_limit(taken(plan, table)).ravel().tolist()) == {6 * HOUR - 15 * MINUTE}


def test_night_by_night_it_gets_there_and_stays():
    plan = plan_with(rows=[{"limit": "6h"}])
    for _ in range(8):
        plan = taken(plan, towards(plan, plan.limits["call"], flat(4))[0])
    assert set(every_limit(plan).ravel().tolist()) == {4 * HOUR}
    table, changed, _ = towards(plan, plan.limits["call"], flat(4))
    assert changed == 0
    assert table is plan.limits["call"]


def test_never_below_the_shortest_never_above_the_longest():
    plan = plan_with(rows=[{"limit": "3h"}], shortest="2h55min", longest="3h5min")
    low = towards(plan, plan.limits["call"], flat(1, 3))[0]
    assert set(every_limit(taken(plan, low)).ravel().tolist()) == {2 * HOUR + 55 * MINUTE}
    high = towards(plan, plan.limits["call"], flat(9))[0]
    assert set(every_limit(taken(plan, high)).ravel().tolist()) == {3 * HOUR + 5 * MINUTE}


@pytest.mark.parametrize(("question", "call"), [(6, 3), (9, 6), (4, 4)])
def test_the_family_is_never_called_before_the_question(question, call):
    # Both move by 15 min a night: the question up to 5 h 30 min, or the call down to it, and no further.
    plan = plan_with(rows=[{"limit": "5h30min"}], one_false_in="180d")
    asked = plan.limits["call"].model_copy(update={"one_false_in": 30 * 24 * HOUR})
    asked = asked.model_copy(update={"rows": (asked.rows[0].model_copy(update={"limit": 5 * HOUR}),)})
    plan = plan.model_copy(update={"limits": {"question": asked, "call": plan.limits["call"]}})
    for _ in range(12):
        for name, hours in (("question", question), ("call", call)):
            table = towards(plan, plan.limits[name], flat(hours))[0]
            plan = plan.model_copy(update={"limits": plan.limits | {name: table}})
        both = [
            np.stack([limits_of(plan, plan.limits[name], part) for part in parts_of(plan, plan.limits[name])])
            for name in ("question", "call")
        ]
        assert (both[0] <= both[1]).all()
    assert both[0].max() == both[1].max() or question < call


HOURS = st.integers(0, 47).map(lambda half: f"{half // 2:02}:{half % 2 * 30:02}")
ROWS = st.lists(
    st.fixed_dictionaries(
        {"limit": st.integers(4, 24).map(lambda half: f"{half * 30}min"), "days": st.sampled_from(["all", "weekends"])},
        optional={
            "room": st.sampled_from(ROOMS),
            "hours": st.tuples(HOURS, HOURS).filter(lambda pair: pair[0] != pair[1]),
        },
    ),
    max_size=5,
)


def in_words(rows):
    return [
        {key: value for key, value in row.items() if key != "hours"}
        | ({"from": row["hours"][0], "to": row["hours"][1]} if "hours" in row else {})
        for row in rows
    ]


@settings(max_examples=40)
@given(ROWS, st.integers(2, 24))
def test_every_limit_is_the_old_one_moved_and_bounded(rows, half_hours):
    plan = plan_with(rows=in_words(rows), shortest="3h")
    old = every_limit(plan)
    table, changed, most_ms = towards(plan, plan.limits["call"], flat(half_hours / 2))
    new = every_limit(taken(plan, table))
    wanted = max(3 * HOUR, min(half_hours * HOUR // 2, 12 * HOUR))
    assert (np.abs(new - old) <= 15 * MINUTE).all()
    assert ((wanted - new) * (wanted - old) >= 0).all()  # never past what was learned
    assert (new[new != old] >= np.minimum(3 * HOUR, old[new != old])).all()
    assert changed == int((new != old).sum())
    assert most_ms == int(np.abs(new - old).max())


@settings(max_examples=15)
@given(ROWS)
def test_a_table_is_judged_as_the_engine_runs_it(rows):
    plan, record = plan_with(rows=in_words(rows)), lived(6)
    signs = signs_of_record(clean(record, NAMES), NAMES)
    told = told_by(PlanLimits(plan, plan.limits["call"]), signs)
    expected = told[told < signs.ends].tolist()
    fired = replay(plan, record, columns.run).outcome.fired["No sign of life"].tolist()
    # The engine's silence begins with the watch too; that has no sign of life to set a limit.
    assert [at for at in fired if at > signs.times[0]] == expected


def test_a_night_is_told_with_what_it_would_have_done():
    plan = plan_with(rows=[{"limit": "6h"}])
    night = relearn(plan, lived(40), "call", teaching(5.5))
    assert (night.verdict, night.days, night.most_ms) == ("changed", 40, 15 * MINUTE)
    assert night.before.false.count == night.after.false.count == 0
    assert night.after.whole.median < night.before.whole.median


def test_a_night_that_would_cry_wolf_changes_nothing():
    plan = plan_with(rows=[{"limit": "3h20min"}], relearn="3h")
    night = relearn(plan, lived(40), "call", teaching(1))
    assert night.verdict == "too many false alarms"
    assert night.table == plan.limits["call"]
    assert night.after.false.count > night.before.false.count


def test_a_month_of_days_must_count():
    plan = plan_with(rows=[{"limit": "6h"}])
    assert relearn(plan, lived(27), "call", teaching(4)).verdict == "too few days"


def test_what_is_learned_already_stays_as_it_is():
    plan = plan_with(rows=[{"limit": "6h"}])
    night = relearn(plan, lived(40), "call", teaching(6))
    assert night.verdict == "as it was"
    assert night.table is plan.limits["call"]
