"""import, inspect and simulate."""

import json
import tomllib

import pytest


@pytest.mark.parametrize("name", ["record.csv", "record.parquet"])
def test_every_line_of_a_log_is_told(stillwell, log, tmp_path, name):
    text, mapping = log
    code, out, _ = stillwell("import", text, "--mapping", mapping, "--out", tmp_path / name, "--json")
    lines = json.loads(out)["lines"]
    assert code == 0
    assert (lines["lines"], lines["header"], lines["used"]) == (163, 1, 160)
    assert lines["ignored"] == {"nobody knows what it is": 1}
    assert sum(lines["malformed"].values()) == 1
    assert lines["shown"][0]["line"] == 5
    assert lines["shown"][0]["text"] == "2026-01-05 xx;PIR1;on"
    _, stored, _ = stillwell("inspect", tmp_path / name, "--json")
    assert json.loads(stored)["events"] == 160


def test_the_malformed_lines_are_shown(stillwell, log, tmp_path):
    text, mapping = log
    _, out, _ = stillwell("import", text, "--mapping", mapping, "--out", tmp_path / "x.csv")
    assert "163 lines: 160 used, 1 heading, 1 left out on purpose, 1 that could not be read." in out
    assert "Line 5: the time is not written as the mapping says: '2026-01-05 xx;PIR1;on'" in " ".join(out.split())


def test_logs_that_follow_each_other_are_one_record(stillwell, log, tmp_path):
    text, mapping = log
    heading, *rows = text.read_text("utf-8").splitlines()
    halves = tmp_path / "first.txt", tmp_path / "second.txt"
    halves[0].write_text("\n".join([heading, *rows[:70]]), "utf-8")
    halves[1].write_text("\n".join([heading, *rows[70:]]) + "\n", "utf-8")
    _, out, _ = stillwell("import", *halves, "--mapping", mapping, "--out", tmp_path / "both.csv", "--json")
    stillwell("import", text, "--mapping", mapping, "--out", tmp_path / "whole.csv")
    lines = json.loads(out)["lines"]
    assert (lines["lines"], lines["header"], lines["used"]) == (164, 2, 160)
    assert (tmp_path / "both.csv").read_text("utf-8") == (tmp_path / "whole.csv").read_text("utf-8")


def test_what_ailed_a_record_is_a_sentence_each(stillwell, log, tmp_path):
    text, mapping = log
    rows = text.read_text("utf-8").splitlines()
    text.write_text("\n".join(row for row in rows if "-01-08" not in row and "-01-09" not in row), "utf-8")
    stillwell("import", text, "--mapping", mapping, "--out", tmp_path / "x.csv")
    _, out, _ = stillwell("inspect", tmp_path / "x.csv")
    # The last row before is of the 7th at 22:30, the first after of the 10th at 07:30: 57 hours.
    assert "Nothing reported from Wed 7 Jan 2026 22:30 to Sat 10 Jan 2026 07:30 (57 h)." in " ".join(out.split())


def test_a_simulation_can_be_repeated_and_replayed(stillwell, home, tmp_path):
    first, second, other = (tmp_path / f"{name}.csv" for name in ("first", "second", "other"))
    for out, seed in ((first, 3), (second, 3), (other, 4)):
        assert stillwell("simulate", home, "--days", "3", "--seed", seed, "--out", out)[0] == 0
    assert first.read_bytes() == second.read_bytes() != other.read_bytes()
    code, out, _ = stillwell("replay", home, first, "--json")
    assert code == 0
    assert json.loads(out)["watched_days"] == 3


def test_a_simulation_tells_what_was_behind_it(stillwell, home, tmp_path):
    _, out, _ = stillwell("simulate", home, "--days", "3", "--out", tmp_path / "x.csv", "--json")
    answer = json.loads(out)
    assert answer["span"] == {"start": "2026-03-02T00:00:00.000Z", "end": "2026-03-05T00:00:00.000Z"}
    assert {"dead_since", "hub_down", "visits", "holidays", "lost", "late"} <= set(answer)


def test_the_schema_knows_a_good_plan_from_a_bad_one(stillwell, home):
    """Judged by a general JSON Schema validator."""
    validator = pytest.importorskip("jsonschema")
    schema = json.loads(stillwell("schema")[1])
    plan = tomllib.loads((home / "home.toml").read_text("utf-8"))
    validator.validate(plan, schema)
    plan["home"]["timezon"] = "x"
    with pytest.raises(validator.ValidationError):
        validator.validate(plan, schema)
