"""The day of tests/pages/record.csv worked out by hand: movement at every full hour but 09, 10, 11 and 12, the door
opened at 07:02; the alarm waits for 3 h of silence and a call takes 20 s."""

import json

import pytest

HOUR_S = 3600


def by_json(stillwell, *arguments):
    code, out, err = stillwell("replay", *arguments, "--json")
    assert (code, err) == (0, "")
    return json.loads(out)


def test_the_names_that_programs_rely_on(stillwell, home, record):
    """The list is the promise of `stillwell replay --help`."""
    answer = by_json(stillwell, home, record)
    assert {"alarms", "per_30_days", "notice_s", "events", "malformed", "seconds"} <= set(answer)
    assert set(answer["alarms"][0]) >= {"alarm", "hazard", "raised_at"}
    assert set(answer["per_30_days"]["No sign of life"]) >= {"rate", "low", "high"}
    assert answer["notice_s"] is None
    assert answer["seconds"] > 0


def test_alarms_aids_and_rates_of_the_day(stillwell, home, record):
    answer = by_json(stillwell, home, record)
    raised = [(each["alarm"], each["hazard"], each["raised_at"]) for each in answer["alarms"]]
    assert raised == [("No sign of life", "collapse", "2026-01-05T11:00:00.000Z")]
    assert answer["aids"] == [{"aid": "Lamp at the door", "at": "2026-01-05T07:02:00.000Z"}]
    assert (answer["events"], answer["malformed"], answer["watched_days"]) == (47, 0, 1)
    rate = answer["per_30_days"]["No sign of life"]
    # One event: the exact Poisson interval is 0.0253 to 5.572 (Garwood 1936, table; times 30 for a day's watching).
    assert (rate["rate"], rate["low"], rate["high"]) == pytest.approx((30, 30 * 0.02532, 30 * 5.572), rel=1e-3)
    assert answer["broken_claims"] == [
        {
            "claim": "hall_lamp.on and between 07:00 and 07:10",
            "times": [{"start": "2026-01-05T07:02:00.000Z", "end": "2026-01-05T07:07:00.000Z"}],
        }
    ]


def test_notice_time_of_the_day(stillwell, home, record):
    notice = by_json(stillwell, home, record, "--silence-at-every-instant")["notice_s"]
    # Silent from some moment after 03:00 on, the last sign was at 03:00: told at 06:00:20, 2 to 3 h later.
    early = notice["by_hour"][3]
    assert (early["median"], early["p95"]) == pytest.approx((2.5 * HOUR_S + 20, 2.95 * HOUR_S + 20))
    assert (early["max"], early["never_share"]) == (3 * HOUR_S + 20, 0)
    # Last sign at 08:00: the alarm stands from 11:00 until the movement at 13:00.
    assert [hour["max"] for hour in notice["by_hour"][9:13]] == [2 * HOUR_S + 20, HOUR_S + 20, 0, 0]
    assert notice["standing_share"] == pytest.approx(2 / 24)
    assert notice["max"] == 3 * HOUR_S + 20


def test_nobody_is_told_while_the_rule_does_not_hold(stillwell, home, record, tmp_path):
    text = (home / "home.toml").read_text("utf-8")
    (tmp_path / "home.toml").write_text(text.replace('initial = "off"', 'initial = "on"'), "utf-8")
    notice = by_json(stillwell, tmp_path, record, "--silence-at-every-instant")["notice_s"]
    assert (notice["median"], notice["p95"], notice["max"], notice["never_share"]) == (None, None, None, 1)


def test_both_evaluators_answer_alike(stillwell, home, record):
    columns, steps = by_json(stillwell, home, record), by_json(stillwell, home, record, "--step")
    assert {**columns, "seconds": 0} == {**steps, "seconds": 0}


def test_another_plan_for_comparison(stillwell, home, record, tmp_path):
    other = tmp_path / "home.toml"
    other.write_text((home / "home.toml").read_text("utf-8").replace("for 3h", "for 4h"), "utf-8")
    arguments = home, record, "--compare", other, "--silence-at-every-instant"
    compared = by_json(stillwell, *arguments)["compare"]
    assert compared["rules"] == {
        "No sign of life": {
            "count": 1,
            "other_count": 1,
            "only_here": ["2026-01-05T11:00:00.000Z"],
            "only_there": ["2026-01-05T12:00:00.000Z"],
        }
    }
    assert compared["notice_s"]["max"] == 4 * HOUR_S + 20
    _, out, _ = stillwell("replay", *arguments)
    assert "only there: Mon 5 Jan 2026 12:00." in out


def test_days_that_are_left_out_count_for_nothing(stillwell, home, record):
    answer = by_json(stillwell, home, record, "--leave-out", "2026-01-05", "--silence-at-every-instant")
    assert answer["watched_days"] == 0
    assert answer["alarms"][0]["in_gap"] is True
    assert answer["per_30_days"]["No sign of life"] == {"rate": 0, "low": 0, "high": None, "count": 0}
    assert answer["notice_s"]["onsets_s"] == 0
    _, out, _ = stillwell("replay", home, record, "--leave-out", "2026-01-05")
    assert "Left out by hand: from Mon 5 Jan 2026 00:00 to Tue 6 Jan 2026 00:00 (1 d)." in out
    assert "and 1 in gaps of the record" in out


def test_a_foreign_log_is_replayed_by_its_mapping(stillwell, home, log):
    text, mapping = log
    answer = by_json(stillwell, home, text, "--mapping", mapping)
    # 10 days of movement from 07:30 to 22:30: three hours after 22:30 an alarm every night, but the last is beyond.
    raised = [each["raised_at"] for each in answer["alarms"] if not each["part"]]
    assert raised == [f"2026-01-{day:02}T01:30:00.000Z" for day in range(6, 15)]
    assert (answer["events"], answer["malformed"]) == (160, 1)
    assert answer["unheard_parts"] == ["door_contact"]


def test_many_alarms_are_cut_short_unless_all_are_wanted(stillwell, home, log, tmp_path):
    plan = tmp_path / "home.toml"
    plan.write_text((home / "home.toml").read_text("utf-8").replace("for 3h", "for 30min"), "utf-8")
    text, mapping = log
    _, short, _ = stillwell("replay", plan, text, "--mapping", mapping)
    _, whole, _ = stillwell("replay", plan, text, "--mapping", mapping, "--all")
    raised = 159  # every movement but the last is followed by half an hour of silence
    assert short.count("   No sign of life\n") == 40
    assert f"and {raised - 40} more; --all shows them" in short
    assert whole.count("   No sign of life\n") == raised


def test_charts_are_written_where_they_are_wanted(stillwell, home, record, tmp_path):
    days, notice = tmp_path / "days.svg", tmp_path / "notice.png"
    arguments = "--silence-at-every-instant", "--chart", days, "--notice-chart", notice
    code, out, _ = stillwell("replay", home, record, *arguments)
    assert code == 0
    assert f"A chart is in {days}." in out
    assert b"Lock house" in days.read_bytes()
    assert notice.read_bytes().startswith(b"\x89PNG")
