"""Whatever is handed to a command, it answers with what is wrong, where, and what would be right; and with exit 2."""

import json

import pytest

GIB = 1024**3


@pytest.fixture
def refused(stillwell, tmp_path, monkeypatch):
    """Run a command that must be refused; give the problems as --json tells them, each checked for its parts."""
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))

    def called(*arguments):
        code, out, err = stillwell(*arguments, "--json")
        assert (code, err) == (2, "")
        problems = json.loads(out)["problems"]
        assert problems
        plain_code, plain_out, plain_err = stillwell(*arguments)
        assert (plain_code, plain_out) == (2, "")
        for problem in problems:
            assert problem["what"] in plain_err
            assert problem["remedy"] in plain_err
        assert "Traceback" not in plain_err
        return problems

    return called


def test_no_such_home(refused):
    (problem,) = refused("check", "nowhere")
    assert (problem["file"], problem["what"]) == ("nowhere", "there is no such file")


def test_a_folder_without_a_plan(refused, tmp_path):
    (problem,) = refused("check", tmp_path)
    assert "there is no home.toml in this folder" in problem["what"]


def test_a_plan_with_three_mistakes(refused, home, tmp_path, stillwell):
    text = (home / "home.toml").read_text("utf-8")
    text = text.replace("hall_pir.movement or", "hall_pri.movement or").replace('"Europe/London"', '"Europe/Londn"')
    path = tmp_path / "home.toml"
    path.write_text(text.replace('call = "family"\n\n[[aid', 'call = "neighbours"\n\n[[aid'), "utf-8")
    problems = refused("check", path)
    lines = text.splitlines()
    told = [lines[problem["line"] - 1].partition(" =")[0] for problem in problems]
    assert told == ["timezone", "sign_of_life", "call"]
    assert "3 things to mend." in stillwell("check", path)[2]


def test_a_plan_that_is_no_text(refused, tmp_path):
    path = tmp_path / "home.toml"
    path.write_bytes(b"\xff\xfe\x00")
    (problem,) = refused("check", tmp_path)
    assert "UTF-8" in problem["what"]


def test_no_such_record(refused, home):
    assert refused("replay", home, "nothing.parquet")[0]["what"] == "there is no such file"


@pytest.mark.parametrize("name", ["empty.csv", "empty.parquet"])
def test_an_empty_record(refused, home, tmp_path, name):
    (tmp_path / name).touch()
    assert refused("replay", home, tmp_path / name)[0]["what"] == "this record is empty"


def test_a_truncated_record(refused, stillwell, home, tmp_path):
    whole = tmp_path / "whole.parquet"
    assert stillwell("simulate", home, "--days", "2", "--out", whole)[0] == 0
    data = whole.read_bytes()
    cut = tmp_path / "cut.parquet"
    for length in (5, len(data) // 2, len(data) - 1):
        cut.write_bytes(data[:length])
        assert refused("inspect", cut)[0]["what"] == "this Parquet file ends too early"


@pytest.mark.parametrize("name", ["line.csv", "line.parquet"])
def test_a_line_of_a_gigabyte(refused, home, tmp_path, name):
    with (tmp_path / name).open("wb") as stream:
        stream.truncate(GIB if name.endswith("parquet") else GIB // 8)  # a file of zeros that fills no disk
    (problem,) = refused("replay", home, tmp_path / name)
    assert problem["what"] in {"this line is longer than a line may be", "this is no Parquet file"}


def test_a_log_from_elsewhere_without_its_mapping(refused, home, log):
    assert "--mapping" in refused("replay", home, log[0])[-1]["remedy"]


def test_a_mapping_that_does_not_fit(refused, log, tmp_path):
    text, mapping = log
    mapping.write_text(mapping.read_text("utf-8").replace("semicolon", "bar"), "utf-8")
    (problem,) = refused("import", text, "--mapping", mapping, "--out", tmp_path / "x.csv")
    assert "separator" in problem["remedy"]
    assert not (tmp_path / "x.csv").exists()


def test_a_mapping_with_mistakes(refused, log, tmp_path):
    text, mapping = log
    mapping.write_text(mapping.read_text("utf-8").replace("header_lines", "header_line").replace("London", "Londn"))
    assert len(refused("import", text, "--mapping", mapping, "--out", tmp_path / "x.csv")) == 2


def test_a_record_is_not_written_over_what_is_read(refused, log):
    text, mapping = log
    source = text.rename(text.with_suffix(".csv"))
    before = source.read_bytes()
    refused("import", source, "--mapping", mapping, "--out", source)
    assert source.read_bytes() == before


@pytest.mark.parametrize("name", ["record.xlsx", "record"])
def test_a_record_of_an_unknown_kind(refused, home, tmp_path, name):
    assert ".parquet" in refused("simulate", home, "--out", tmp_path / name)[0]["remedy"]


def test_a_place_that_cannot_be_written(refused, home, tmp_path):
    (tmp_path / "file").touch()
    assert "cannot write" in refused("simulate", home, "--days", "1", "--out", tmp_path / "file" / "x.csv")[0]["what"]


@pytest.mark.parametrize(
    ("option", "value"),
    [("--start", "soon"), ("--start", "9999-12-31"), ("--days", "0"), ("--days", "1000000"), ("--seed", "-1")],
)
def test_a_simulation_that_cannot_be(refused, home, tmp_path, option, value):
    refused("simulate", home, option, value, "--out", tmp_path / "x.csv")


@pytest.mark.parametrize("days", ["soon", "2026-02-30", "2026-01-06..2026-01-05", "2020-01-01", "9999-12-31"])
def test_days_that_cannot_be_left_out(refused, home, record, days):
    refused("replay", home, record, "--leave-out", days)


def test_a_chart_of_an_unknown_kind(refused, home, record):
    assert ".svg" in refused("replay", home, record, "--chart", "days.pdf")[0]["remedy"]


def test_a_notice_chart_without_its_numbers(stillwell, home, record):
    code, _, err = stillwell("replay", home, record, "--notice-chart", "x.svg")
    assert code == 2
    assert "--silence-at-every-instant" in err


def test_silence_without_an_alarm_for_it(refused, home, record, tmp_path):
    text = (home / "home.toml").read_text("utf-8").replace('kind = "collapse"', 'kind = "wandering"')
    (tmp_path / "home.toml").write_text(text, "utf-8")
    assert "[[alarm]]" in refused("replay", tmp_path, record, "--silence-at-every-instant")[0]["remedy"]
