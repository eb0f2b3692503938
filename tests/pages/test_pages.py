"""What the commands print, word for word. After a change that is meant: ``python -m tests.pages.test_pages``."""

import os
from contextlib import chdir, redirect_stdout
from io import StringIO
from pathlib import Path

import pytest

from stillwell.cli.ending import run

HERE = Path(__file__).parent
PRINTED = {
    "help.txt": ["--help"],
    "prove-help.txt": ["prove", "--help"],
    "replay-help.txt": ["replay", "--help"],
    "check.txt": ["check", "home.toml"],
    "inspect.txt": ["inspect", "record.csv"],
    "prove.txt": ["prove", ".", "--year", "2026"],
    "explain.txt": ["prove", ".", "--year", "2026", "--explain", "collapse"],
    "replay.txt": ["replay", ".", "record.csv", "--silence-at-every-instant"],
}


def printed(arguments):
    out = StringIO()
    with chdir(HERE), redirect_stdout(out):
        assert run(arguments) == 0
    return out.getvalue()


@pytest.mark.parametrize("name", PRINTED)
def test_a_page_reads_as_it_was_approved(name, monkeypatch):
    monkeypatch.setenv("COLUMNS", "100")
    assert printed(PRINTED[name]) == (HERE / name).read_text("utf-8")


if __name__ == "__main__":
    os.environ["COLUMNS"] = "100"
    for file, words in PRINTED.items():
        (HERE / file).write_text(printed(words), "utf-8")
