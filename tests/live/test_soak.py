"""Days on end: the rules fire when they must, callings keep their pace, the store grows by what is computed.

``benchmarks/soak.py`` does the same for thirty days, and looks at the memory as well.
"""

from pathlib import Path

import pytest
from tests.live.soaking import expected_bytes, out_of_step, soak, taken_bytes
from tests.trial_home import PLAN

from stillwell.plan.read import read_plan

COTTAGE = (Path(__file__).parents[2] / "examples" / "cottage" / "home.toml").read_text("utf-8")


def test_no_timer_drifts_over_days_and_restarts_and_the_store_grows_as_computed(tmp_path):
    plan = read_plan(COTTAGE, "home.toml")
    found = soak(plan, COTTAGE, tmp_path / "store.db", days=3, seed=5)
    assert found.fired == found.expected
    assert len(found.fired) > 10
    assert found.messages
    assert out_of_step(plan, found.messages) == []
    computed, taken = expected_bytes(found.reports), taken_bytes(tmp_path / "store.db")
    assert taken["event"] == pytest.approx(computed["event"], rel=0.02, abs=8192)
    # What is appended to an index is shared out among neighbouring pages, which leaves some of their room free.
    assert computed["event_by_time"] <= taken["event_by_time"] <= 1.25 * computed["event_by_time"]


def test_with_a_retention_of_a_day_it_holds_no_more_than_that(tmp_path):
    text = PLAN.replace('timezone = "Europe/London"', 'timezone = "Europe/London"\nretention = "1d"')
    path = tmp_path / "store.db"
    found = soak(read_plan(text, "home.toml"), text, path, days=8, seed=5)
    # It is looked after every six hours: what is kept is a day and at most six hours more.
    kept = [one for one in found.reports if one[0] >= found.reports[-1][0] - 30 * 3_600_000]
    assert len(kept) < len(found.reports) / 4
    assert taken_bytes(path)["event"] <= expected_bytes(kept)["event"] + 2 * 4096
