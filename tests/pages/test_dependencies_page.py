"""Each package that pyproject.toml asks for has a line on the page that answers for it, and is pinned."""

import re
import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
EXTRAS = PROJECT["project"]["optional-dependencies"]
ASKED = {
    re.match(r"[\w-]+", line).group()
    for group in (PROJECT["project"]["dependencies"], PROJECT["build-system"]["requires"], *EXTRAS.values())
    for line in group
}


def test_the_page_answers_for_each_package_and_for_no_other():
    rows = re.findall(r"^\| (`[^|]+`) \|", (ROOT / "docs/dependencies.md").read_text("utf-8"), re.MULTILINE)
    assert {name for row in rows for name in re.findall(r"`([^`]+)`", row)} == ASKED


def test_each_package_is_pinned_to_one_version():
    pins = re.findall(r"^([\w.-]+)==[\w.]+$", (ROOT / "constraints.txt").read_text("utf-8"), re.MULTILINE)
    assert {name.casefold() for name in ASKED} <= {name.casefold().replace("_", "-") for name in pins}


def test_pins_hold_no_addresses():
    lines = (ROOT / "constraints.txt").read_text("utf-8").splitlines()
    assert [line for line in lines if not re.fullmatch(r"#.*|[\w.-]+==[\w.]+", line)] == []
