from pathlib import Path

import pytest

from stillwell.cli.ending import run

PAGES = Path(__file__).parents[2] / "pages"


@pytest.fixture
def stillwell(capsys, monkeypatch):
    """Run a command in this process; give exit code, standard output and standard error."""
    monkeypatch.setenv("COLUMNS", "100")

    def called(*arguments):
        code = run([str(argument) for argument in arguments])
        said = capsys.readouterr()
        return code, said.out, said.err

    return called


@pytest.fixture
def home():
    return PAGES


@pytest.fixture
def record():
    return PAGES / "record.csv"


@pytest.fixture
def log(tmp_path):
    """A small foreign log of three parts and its mapping; one line is malformed, one left out on purpose."""
    rows = [f"2026-01-{day:02} {hour:02}:30:00;PIR1;on" for day in range(5, 15) for hour in range(7, 23)]
    rows[3:3] = ["2026-01-05 xx;PIR1;on", "2026-01-05 10:00:00;NOISE;1"]
    (tmp_path / "log.txt").write_text("time;who;what\n" + "\n".join(rows) + "\n", "utf-8")
    (tmp_path / "mapping.toml").write_text(
        """
        zone = "Europe/London"
        [log]
        separator = "semicolon"
        header_lines = 1
        [columns]
        time = 1
        source = 2
        value = 3
        [time]
        written_as = "%Y-%m-%d %H:%M:%S"
        [parts]
        hall_pir = "PIR1"
        [[signal]]
        kind = "pulse"
        value = "on"
        signal = "{part}.movement"
        [[ignore]]
        source = "NOISE"
        why = "nobody knows what it is"
        """,
        "utf-8",
    )
    return tmp_path / "log.txt", tmp_path / "mapping.toml"
