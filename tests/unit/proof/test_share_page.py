"""docs/protected-share.md gives every usual figure as the code has it."""

from pathlib import Path

import pytest

from stillwell.proof.helps.find import MOST_PROOFS
from stillwell.proof.share import chances
from stillwell.proof.tree.defaults import MAINS, PARTS

pytestmark = pytest.mark.base

ROOT = Path(__file__).parents[3]
PAGE = (ROOT / "docs/protected-share.md").read_text("utf-8")
BROKER = "message broker"


def rows(first):
    """Return the rows of the table whose head begins so."""
    lines = PAGE[PAGE.index(f"| {first} |") :].partition("\n\n")[0].splitlines()[2:]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]


def test_every_kind_is_there_with_its_figures():
    said = {
        kind.strip(): (float(often), found_often, float(mended), found_mended)
        for kinds, often, found_often, mended, found_mended in rows("kind of part")
        for kind in kinds.split(",")
    }
    assert set(said) == {*PARTS, BROKER}
    for kind, (often, found_often, mended, found_mended) in said.items():
        figures = chances.BROKER if kind == BROKER else PARTS[kind]
        assert (often, mended) == (figures.failures_per_year.value, figures.repair_h.value)
        assert found_often.startswith(figures.failures_per_year.mark)
        assert found_mended.startswith(figures.repair_h.mark)


def test_the_other_figures_are_those_of_the_code():
    said = {figure: (value, founded) for figure, value, founded in rows("figure")}
    known = {
        "`stuck_share`": chances.STUCK_SHARE,
        "`late_share`": chances.LATE_SHARE,
        "`unreachable`": chances.UNREACHABLE,
        "`walk_test_every`": chances.WALK_TEST_H,
        "`dark_noticed`": chances.DARK_H,
        "`power_cuts`, minutes": MAINS["Europe"].saidi_min_per_year,
        "`power_cuts`, a year": MAINS["Europe"].saifi_per_year,
    }
    assert len(said) == len(known)
    for name, figure in known.items():
        ((value, founded),) = [told for said_name, told in said.items() if said_name.startswith(name)]
        number, _, unit = value.partition(" ")
        assert float(number) * (24 if unit == "days" else 1) == figure.value
        assert founded.startswith(figure.mark)


def test_no_more_changes_are_proved_than_it_says():
    assert f"No more than {MOST_PROOFS} changed plans" in PAGE


def test_the_files_it_names_are_there():
    named = {word.strip("`,") for word in PAGE.split() if word.startswith("`tests/")}
    assert len(named) == 6
    assert all((ROOT / name).exists() for name in named)
