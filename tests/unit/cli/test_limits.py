"""stillwell limits, from files to files."""

import json
import re

import pytest
from tests.unit.limits.lived import learned_of, lived
from tests.unit.limits.row_home import TEXT

from stillwell.limits.table import LimitRow, LimitTable
from stillwell.plan.read import read_plan
from stillwell.plan.texts import EVERY_DAY
from stillwell.record.text import write_text

pytestmark = pytest.mark.base


@pytest.fixture(scope="module")
def record(tmp_path_factory):
    path = tmp_path_factory.mktemp("record") / "lived.csv"
    path.write_text("\n".join(write_text(lived(45))) + "\n", "utf-8")
    return path


@pytest.fixture
def row_home(tmp_path):
    (tmp_path / "home.toml").write_text(TEXT, "utf-8")
    return tmp_path


def test_the_names_that_programs_rely_on(stillwell, row_home, record):
    """The list is the promise of `stillwell limits --help`."""
    code, out, err = stillwell("limits", row_home, record, "--budget", "1 per 60 days", "--json")
    assert (code, err) == (0, "")
    answer = json.loads(out)
    assert answer["budget_per_30_days"] == 0.5
    assert set(answer["promised"]) == set(answer["realised"]) == {"per_30_days", "low", "high"}
    assert set(answer["notice_s"]) == {"median", "p95", "max", "day_median", "day_p95"}
    assert answer["days_used"] == 45
    assert answer["days_needed"] > 0
    assert {"room", "from", "to", "day_kind", "limit_s"} <= set(answer["limits"][0])
    assert {each["room"] for each in answer["limits"]} == {"bedroom", "bathroom", "kitchen", "lounge", None}
    assert answer["call"]["budget_per_30_days"] == pytest.approx(1 / 6)
    assert max(each["limit_s"] for each in answer["limits"]) == 12 * 3600
    assert answer["notice_s"]["max"] <= 12 * 3600
    assert answer["written"] is None
    kinds = [each["kind"] for each in answer["choices"]]
    assert [kinds.count(kind) for kind in ("learned", "fixed", "once a day", "published")] == [5, 8, 1, 5]
    assert [(each["method"], each["parameter"], each["size"]) for each in answer["choices"][-5:]] == [
        ("Cuddihy 2007", "k", 1.0),
        ("Floeck-Litz 2009", "q", 0.1),
        ("Moshtaghi 2015, Pareto", "a", 0.01),
        ("Moshtaghi 2015, exponential", "a", 0.01),
        ("Wilhelm-Wahl 2024", "g", 1.1),
    ]
    assert {each["method"] for each in answer["choices"][:-5]} == {None}
    for each in answer["choices"]:
        assert set(each["realised"]) == set(answer["realised"])
        assert set(each["notice_s"]) == set(answer["notice_s"])
    assert (row_home / "home.toml").read_text("utf-8") == TEXT


def test_a_week_is_learned_from_but_not_tried(stillwell, row_home, tmp_path):
    week = tmp_path / "week.csv"
    week.write_text("\n".join(write_text(lived(8))) + "\n", "utf-8")
    code, out, _ = stillwell("limits", row_home, week, "--json")
    answer = json.loads(out)
    assert code == 0
    assert answer["days_used"] in (7, 8)
    assert answer["shown"] is False
    assert set(answer["realised"]) == {"per_30_days", "low", "high"}
    assert set(answer["notice_s"]) == {"median", "p95", "max", "day_median", "day_p95"}


def test_people_read_what_is_worried_about_when_and_how_sure_it_is(stillwell, row_home, record):
    code, out, err = stillwell("limits", row_home, record)
    assert (code, err) == (0, "")
    assert "45 of 45 days count." in out
    assert re.search(r"bathroom +\d+ h( \d\d)?", out)
    assert "The record cannot carry this promise" in out
    assert re.search(r"Wilhelm-Wahl 2024 +[\d.]+ ", out)
    assert "Nothing has been changed." in out


def test_marked_days_are_left_out(stillwell, row_home, record):
    code, out, _ = stillwell("limits", row_home, record, "--leave-out", "2026-01-12..2026-01-18", "--json")
    assert code == 0
    answer = json.loads(out)
    assert (answer["days_used"], answer["left_out"]) == (38, {"marked": 7})


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (["--budget", "seldom"], "is no budget of false alarms"),
        (["--budget", "0 per 30 days"], "is no budget of false alarms"),
        (["--budget", "1 per 100000 days"], "is no budget of false alarms"),
        (["--budget", "1 per 60 days", "--call-budget", "1 per 30 days"], "called more often"),
        (["--longest", "3d"], "no longest silence"),
        (["--longest", "long"], "is no duration"),
        (["--chart", "limits.doc"], "cannot be written to this kind of file"),
        (["--trade-off", "choices.doc"], "cannot be written to this kind of file"),
        (["--chart", "one.svg", "--trade-off", "one.svg"], "one.svg cannot hold both charts"),
    ],
)
def test_what_cannot_be_meant_is_refused(stillwell, row_home, record, options, told):
    code, _, err = stillwell("limits", row_home, record, *options)
    assert code == 2
    assert told in err


def test_too_little_is_refused_in_words(stillwell, row_home, tmp_path):
    short = tmp_path / "short.csv"
    short.write_text("\n".join(write_text(lived(2))) + "\n", "utf-8")
    code, _, err = stillwell("limits", row_home, short)
    assert code == 2
    assert "too few to learn from" in err


def night_and_day(plan, longest_ms):
    """Stand in for the learner, so that the proof has few hours to look at."""
    rows = (LimitRow((), 0, 420, EVERY_DAY, longest_ms), LimitRow((), 420, 1440, EVERY_DAY, longest_ms // 2))
    table = LimitTable(rows, longest_ms)
    return lambda cleaned, budgets: [learned_of(table, budget, len(cleaned.used)) for budget in budgets]


def test_written_into_the_plan_and_proved(stillwell, row_home, record, monkeypatch):
    monkeypatch.setattr("stillwell.limits.proposal.default_learner", night_and_day)
    code, out, err = stillwell("limits", row_home, record, "--write", "--json")
    assert (code, err) == (0, "")
    written = json.loads(out)["written"]
    assert written["tables"] == ["question", "call"]
    assert (written["alarm_added"], written["question_added"]) == (True, False)  # nothing can sound there
    text = (row_home / "home.toml").read_text("utf-8")
    assert all(line in text for line in TEXT.splitlines())
    plan = read_plan(text, "home.toml")
    assert plan.alarm[-1].when.text == "no sign_of_life for limit call"
    code, out, _ = stillwell("prove", row_home, "--year", "2026", "--json")
    (hazard,) = json.loads(out)["hazards"]
    assert hazard["normal"]["inf_s"] == 6 * 3600 + 20
    # the proof sees the hard cap: nothing is told later than after the longest limit, and the call's 20 s
    assert hazard["normal"]["sup_s"] <= 12 * 3600 + 20
