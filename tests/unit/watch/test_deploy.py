"""What stands in deploy/ and beside the example is what the program takes: units, container, settings."""

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from stillwell.cli.program import program
from stillwell.plan.read import read_plan
from stillwell.watch.remarks import remarks
from stillwell.watch.settings import Settings, parse_settings

ROOT = Path(__file__).parents[3]
UNITS = ["stillwell-watch.service", "stillwell-keep.service", "stillwell-serve.service"]
EXAMPLE = ROOT / "examples/cottage/settings.example.toml"


def unit(name):
    return (ROOT / "deploy" / name).read_text("utf-8")


@pytest.mark.parametrize("name", UNITS)
@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="systemd is not installed")
def test_systemd_takes_the_unit_and_finds_it_closed(tmp_path, name):
    """By systemd's own judgement: no warning, and an exposure level below 2 of 10 (10 is a service with no guard)."""
    command = Path(sys.executable).with_name("stillwell")
    (tmp_path / name).write_text(unit(name).replace("/opt/stillwell/bin/stillwell", str(command)), "utf-8")
    for words in (["verify"], ["security", "--offline=true", "--threshold=20"]):
        done = subprocess.run(
            ["systemd-analyze", *words, tmp_path / name], capture_output=True, text=True, timeout=60, check=False
        )
        assert done.returncode == 0, done.stdout + done.stderr
        if words == ["verify"]:
            assert name not in done.stderr


@pytest.mark.parametrize("name", UNITS)
def test_a_unit_starts_a_command_that_there_is_for_ever(name):
    text = unit(name)
    (line,) = re.findall(r"^ExecStart=/opt/stillwell/bin/stillwell (.+)$", text, re.MULTILINE)
    assert _understood(line.split())
    assert "\nRestart=always\n" in text
    assert "\nStartLimitIntervalSec=0\n" in text


def test_the_container_starts_a_command_that_there_is():
    text = (ROOT / "deploy/Containerfile").read_text("utf-8")
    (line,) = re.findall(r"^CMD \[(.+)\]$", text, re.MULTILINE)
    assert _understood([word.strip().strip('"') for word in line.split(",")])
    assert "--user root" not in text
    assert re.search(r"^USER stillwell$", text, re.MULTILINE)


def _understood(words):
    """Ask for help with the same options: click refuses what it does not know before it helps."""
    name, *options = words
    flags = [word for word in options if word.startswith("--")]
    said = CliRunner().invoke(program, [name, "--help"]).output
    return all(flag in said for flag in flags) and bool(flags)


def test_the_example_is_whole():
    """Each table of the settings is shown, and with it nothing is wanting for the cottage."""
    text = EXAMPLE.read_text("utf-8")
    settings = parse_settings(text, str(EXAMPLE))
    shown = {line.lstrip("# ").partition("]")[0].strip("[") for line in text.splitlines() if re.match(r"#? ?\[", line)}
    shown |= {line.partition(" =")[0] for line in text.splitlines() if re.match(r"[a-z_]+ =", line)}
    tables = set(Settings.model_fields) - {"control_key", "people"}
    assert tables <= shown
    plan = read_plan((ROOT / "examples/cottage/home.toml").read_text("utf-8"), "home.toml")
    used = {(person, channel) for person, one in plan.people.items() for channel in one.channels}
    known = {(person, channel) for person, channels in settings.people.items() for channel in channels}
    assert used == known
    assert list(remarks(plan, settings, [])) == []
