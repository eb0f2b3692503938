import subprocess
import sys

import click
import pytest

from stillwell.cli.ending import EXIT_OURS, EXIT_STOPPED
from stillwell.cli.program import COMMANDS, program
from stillwell.problem import EXIT_REFUSED

HEAVY = ("numpy", "pydantic", "lark", "tomllib", "altair", "arro3", "zoneinfo")


@pytest.mark.parametrize("name", COMMANDS)
def test_every_help_has_an_example(stillwell, name):
    code, out, _ = stillwell(name, "--help")
    assert code == 0
    assert f"  stillwell {name}" in out.partition("Example")[2]


@pytest.mark.parametrize("name", COMMANDS)
def test_every_option_says_what_it_is_for(name):
    command = program.get_command(click.Context(program), name)
    assert command.short_help
    assert all(param.help for param in command.params if isinstance(param, click.Option))


@pytest.mark.base
def test_help_imports_nothing_heavy():
    code = f"""
import sys
from stillwell.cli.ending import run
assert run(["--help"]) == 0
assert run(["replay", "--help"]) == 0
sys.exit(" ".join(name for name in {HEAVY!r} if name in sys.modules) or 0)
"""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=False)
    assert (done.stderr.strip(), done.returncode) == ("", 0)


@pytest.mark.parametrize(
    "arguments", [["nonsense"], ["check"], ["check", "x", "--wrong"], ["simulate", "x", "--out", "y", "--days", "a"]]
)
def test_a_slip_in_the_command_is_one_clear_message(stillwell, arguments):
    code, out, err = stillwell(*arguments)
    assert (code, out) == (EXIT_REFUSED, "")
    assert err.count("Error: ") == 1


def test_stopping_by_hand_leaves_no_trace(stillwell, home, monkeypatch):
    def stopped(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr("stillwell.plan.read.read_plan", stopped)
    code, out, err = stillwell("check", home)
    assert (code, out, err.strip()) == (EXIT_STOPPED, "", "Stopped.")


class TestAMistakeOfOurs:
    @pytest.fixture(autouse=True)
    def mistake(self, monkeypatch, tmp_path):
        def broken(*_):
            raise LookupError("no such thing")

        monkeypatch.setattr("stillwell.plan.read.read_plan", broken)
        monkeypatch.setattr("tempfile.tempdir", str(tmp_path))

    def test_is_owned_up_in_a_line_and_kept_in_a_file(self, stillwell, home, tmp_path):
        code, out, err = stillwell("check", home)
        (report,) = tmp_path.iterdir()
        assert (code, out) == (EXIT_OURS, "")
        assert err == f"This is a mistake in Stillwell itself (LookupError). The report is in {report}.\n"
        assert "no such thing" in report.read_text("utf-8")
        assert f"stillwell check {home}" in report.read_text("utf-8")

    def test_shows_the_traceback_only_when_asked(self, stillwell, home):
        with pytest.raises(LookupError):
            stillwell("--debug", "check", home)


def test_a_reader_who_goes_away_is_no_mistake(home):
    command = f"{sys.executable} -c 'from stillwell.cli import main; main()' schema | head -c 10"
    done = subprocess.run(["bash", "-o", "pipefail", "-c", command], capture_output=True, timeout=60, check=False)
    assert (done.stdout, done.stderr) == (b'{\n  "$sche', b"")
