"""The home of tests/pages worked out by hand: 3 h of silence, at any hour, and a call that takes 20 s.

So somebody is told 3 h 0 min 20 s after any last sign of life, within both deadlines. The only neighbour has 2 min to
answer and 4 min to the door.
"""

import json
from datetime import UTC, datetime

import pytest

from stillwell.cli import prove

NOTICE_S = 3 * 3600 + 20.0


def by_json(stillwell, *arguments):
    code, out, err = stillwell("prove", *arguments, "--year", "2026", "--json")
    assert (code, err) == (0, "")
    return json.loads(out)


def changed(home, tmp_path, old, new):
    """Write the home with one thing changed; return its folder."""
    text = (home / "home.toml").read_text("utf-8")
    assert text.count(old) == 1
    (tmp_path / "home.toml").write_text(text.replace(old, new), "utf-8")
    return tmp_path


def test_the_names_that_programs_rely_on(stillwell, home):
    """The list is the promise of `stillwell prove --help` and of docs/proof.md."""
    answer = by_json(stillwell, home)
    assert {"hazards", "protected_share", "findings", "seconds"} <= set(answer)
    (hazard,) = answer["hazards"]
    assert {"hazard", "alarm", "deadline_s", "normal", "faults"} <= set(hazard)
    assert set(hazard["normal"]) >= {"inf_s", "sup_s", "attained", "mean_s", "share_within_deadline", "worst_onset"}
    assert all({"fault", "sup_s", "told_blind_s"} <= set(fault) for fault in hazard["faults"])
    assert all({"code", "where", "text"} <= set(found) for found in answer["findings"])


def test_every_figure_of_the_small_home(stillwell, home):
    (hazard,) = by_json(stillwell, home)["hazards"]
    normal = hazard["normal"]
    assert (normal["inf_s"], normal["sup_s"], normal["mean_s"]) == (NOTICE_S, NOTICE_S, NOTICE_S)
    assert (normal["attained"], normal["share_within_deadline"], hazard["exact"]) == (True, 1.0, True)
    assert (hazard["deadline_day_s"], hazard["deadline_night_s"]) == (4 * 3600, 10 * 3600)
    assert hazard["deadline_s"] == 10 * 3600  # Monday 00:00 is night
    assert (hazard["raised_s"], hazard["told_s"]) == (3 * 3600, NOTICE_S)
    assert (hazard["acknowledged_s"], hazard["at_door_s"]) == (NOTICE_S + 120, NOTICE_S + 120 + 240)
    assert hazard["otherwise"] == []  # nobody ever sets holiday


def test_what_a_person_may_have_set_is_told_apart(stillwell, home, tmp_path):
    (hazard,) = by_json(stillwell, changed(home, tmp_path, 'initial = "off"', 'initial = "off"\nset_by = "resident"'))[
        "hazards"
    ]
    assert (hazard["set_by_hand"], hazard["normal"]["sup_s"]) == ("holiday is off", NOTICE_S)
    assert [(one["set_by_hand"], one["sup_s"]) for one in hazard["otherwise"]] == [("holiday is on", None)]


def test_what_one_broken_part_does(stillwell, home):
    (hazard,) = by_json(stillwell, home)["hazards"]
    faults = {fault["fault"]: fault for fault in hazard["faults"]}
    assert faults["ben unreachable"]["sup_s"] is None
    assert faults["hall_pir late"]["sup_s"] == NOTICE_S + 600  # docs/hazards.md: 10 min late
    # the hub is supervised: 4 h of silence, and 20 s for the call
    assert faults["hub lost"]["told_blind_s"] == 4 * 3600 + 20
    assert faults["hall_pir lost"]["told_blind_s"] is None


def test_a_finding_has_its_place(stillwell, home):
    findings = by_json(stillwell, home)["findings"]
    lines = (home / "home.toml").read_text("utf-8").splitlines()
    for found in findings:
        assert found["file"].endswith("home.toml")
        assert 1 <= found["line"] <= len(lines)
    (alone,) = [found for found in findings if found["code"] == "hangs-on-one-person"]
    assert lines[alone["line"] - 1] == "[people.ben]"


def test_the_witness_is_replayed_to_the_proven_instant(stillwell, home, tmp_path):
    answer = by_json(stillwell, home, "--witness", tmp_path / "out")
    (hazard,) = answer["hazards"]
    record = next(file for file in answer["files"] if "collapse" in file)
    code, out, _ = stillwell("replay", home, record, "--json")
    onset = datetime.fromisoformat(hazard["normal"]["worst_onset"])
    raised = [
        datetime.fromisoformat(one["raised_at"]) for one in json.loads(out)["alarms"] if one["hazard"] == "collapse"
    ]
    assert code == 0
    assert min(one for one in raised if one >= onset).timestamp() - onset.timestamp() == hazard["raised_s"]


def test_a_claim_that_fails_comes_with_a_record_that_breaks_it(stillwell, home, tmp_path):
    answer = by_json(stillwell, home, "--witness", tmp_path / "out")
    assert [claim["holds"] for claim in answer["claims"]] == [False]
    (record,) = [file for file in answer["files"] if "never" in file]
    code, out, _ = stillwell("replay", home, record, "--json")
    assert code == 0
    assert json.loads(out)["broken_claims"]


def test_the_story_is_told_in_local_time(stillwell, home):
    code, out, _ = stillwell("prove", home, "--year", "2026", "--explain", "collapse")
    assert code == 0
    assert "Monday 00:00: Ada Hill lies still." in out
    assert "03:00: it is raised, 3 h after it began." in out
    assert "the deadline of 10 h is met" in out


def test_strict_says_no_where_a_deadline_is_missed(stillwell, home, tmp_path):
    met = changed(home, tmp_path, 'claim = "hall_lamp.on and', 'claim = "holiday is on and holiday is off and')
    assert stillwell("prove", met, "--strict")[0] == 0
    missed = changed(home, tmp_path, 'day = "4h"', 'day = "3h"')
    assert stillwell("prove", missed, "--strict")[0] == 1
    assert stillwell("prove", missed)[0] == 0


def test_strict_says_no_where_the_rules_break_a_claim(stillwell, home):
    assert stillwell("prove", home, "--strict")[0] == 1


def test_what_would_help_is_looked_for_when_asked(stillwell, home, tmp_path):
    missed = changed(home, tmp_path, 'day = "4h"', 'day = "3h"')
    answer = by_json(stillwell, missed)
    assert answer["helps"] == []
    (found,) = by_json(stillwell, missed, "--what-would-help")["helps"]
    assert any(one["sup_after_s"] <= 3 * 3600 for one in found["helps"])


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--hazard", "fire"], "the plan has no hazard 'fire'"),
        (["--explain", "fire"], "the plan has no hazard 'fire'"),
        (["--year", "20260"], "20260 is too far away"),
        (["--chart", "curve.bmp"], "cannot be written to this kind of file"),
        (["--witness", __file__], "this is a file, not a folder"),
    ],
)
def test_what_is_refused(stillwell, home, arguments, said):
    code, out, err = stillwell("prove", home, *arguments)
    assert (code, out) == (2, "")
    assert said in err


def test_the_year_is_this_one_where_none_is_named(stillwell, home):
    answer = json.loads(stillwell("prove", home, "--json")[1])
    assert answer["year"] == datetime.now(UTC).year  # noqa: TID251 - the one thing the command asks the clock


def test_a_home_without_hazards_is_told_so(stillwell, home, tmp_path):
    text = (home / "home.toml").read_text("utf-8").partition("[[hazard]]")[0]
    (tmp_path / "home.toml").write_text(text, "utf-8")
    code, out, _ = stillwell("prove", tmp_path)
    assert code == 0
    assert "nothing to prove" in out
    assert by_json(stillwell, tmp_path)["protected_share"] is None


def test_a_hazard_that_nothing_can_tell_of(stillwell, home, tmp_path):
    folder = changed(home, tmp_path, 'kind = "collapse"', 'kind = "smoke"')
    (hazard,) = by_json(stillwell, folder)["hazards"]
    assert hazard["normal"]["sup_s"] is None
    _, out, _ = stillwell("prove", folder, "--explain", "collapse")
    assert "No part of this home can tell of it" in out


def test_the_chart_is_drawn(stillwell, home, tmp_path):
    code, out, _ = stillwell("prove", home, "--chart", tmp_path / "notice.svg")
    assert code == 0
    assert "notice.svg" in out
    assert (tmp_path / "notice.svg").read_text("utf-8").startswith("<svg")


def test_years_are_bounded_where_the_calendar_is():
    assert prove.EARLIEST_YEAR < 2026 < prove.LATEST_YEAR
