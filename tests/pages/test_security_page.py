"""docs/security.md: every threat names a test that holds it, and every test that is named is there."""

import re
from pathlib import Path

import pytest

pytestmark = pytest.mark.base

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs/security.md").read_text("utf-8")
ROWS = [
    [cell.strip() for cell in line.strip("|").split("|")]
    for line in PAGE.splitlines()
    if line.startswith("|") and not re.match(r"\| threat|\|---", line)
]
NAMED = sorted(set(re.findall(r"`(\w+\.py)::(\w+)`", PAGE)))


@pytest.mark.parametrize("row", ROWS, ids=[row[0][:60] for row in ROWS])
def test_each_threat_has_what_holds_it_and_a_test(row):
    threat, holds, held_by = row
    assert threat
    assert holds
    assert re.fullmatch(r"`\w+\.py::\w+`(, `\w+\.py::\w+`)*", held_by)


@pytest.mark.parametrize(("file", "test"), NAMED, ids=["::".join(each) for each in NAMED])
def test_each_named_test_is_there(file, test):
    (found,) = (ROOT / "tests").rglob(file)
    assert re.search(rf"^(async )?def {test}\(", found.read_text("utf-8"), re.MULTILINE)


def test_there_are_lines_at_all():
    assert len(ROWS) >= 30
