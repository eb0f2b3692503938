"""The contracts in .importlinter hold what they say: each forbidden arrow, drawn in a bare skeleton, breaks them."""

import re
import subprocess
import sys
from configparser import ConfigParser
from itertools import pairwise
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
CONTRACTS = ROOT / ".importlinter"
EDGES = ["cli", "web", "watch", "keeper", "fleet", "store", "channels", "control", "serving"]

RULES = ConfigParser()
RULES.read_string(CONTRACTS.read_text("utf-8"))


def said_in(contract, key):
    return RULES[f"importlinter:contract:{contract}"][key]


LAYERS = [[name.strip(" ()") for name in line.split("|")] for line in said_in("layers", "layers").strip().splitlines()]
NAMES = [name for layer in LAYERS for name in layer]

# A layer may import the next one below; so each of these is an arrow the wrong way.
UPWARDS = [(below[0], f"stillwell.{above[0]}") for above, below in pairwise(LAYERS)]
ACROSS = [(left, f"stillwell.{right}") for layer in LAYERS for left, right in pairwise(layer)]
OUTSIDE = [name for name in said_in("pure", "forbidden_modules").split() if name != "stillwell.files"]
HEAVY = [(name.removeprefix("stillwell."), "numpy") for name in said_in("light", "source_modules").split()]


def broken(folder, *arrows, extra=()):
    """Lint a bare skeleton of every layer, present and to come, with these arrows in it; name what breaks."""
    package = folder / "stillwell"
    for name in ("", *NAMES, *extra):
        (package / name).mkdir(parents=True)
        (package / name / "__init__.py").touch()
    for importer, imported in arrows:
        place, _, module = importer.partition(".")
        with (package / place / f"{module or 'arrow'}.py").open("a", encoding="utf-8") as file:
            file.write(f"import {imported}\n")
    (folder / ".importlinter").write_text(CONTRACTS.read_text("utf-8"), "utf-8")
    lint = str(Path(sys.executable).with_name("lint-imports"))
    done = subprocess.run([lint, "--no-cache"], cwd=folder, capture_output=True, text=True, timeout=60, check=False)
    contracts = [name.rpartition(":")[2] for name in RULES.sections() if ":" in name]
    verdicts = re.findall(r"(KEPT|BROKEN)(?: \(.*\))?$", done.stdout, re.MULTILINE)
    assert len(verdicts) == len(contracts), done.stdout + done.stderr
    found = [name for name, verdict in zip(contracts, verdicts, strict=True) if verdict == "BROKEN"]
    assert done.returncode == (1 if found else 0)
    return found


def test_the_bare_skeleton_keeps_every_contract(tmp_path):
    assert broken(tmp_path) == []


def test_an_arrow_down_is_kept(tmp_path):
    downwards = [(above[0], f"stillwell.{below[0]}") for above, below in pairwise(LAYERS) if below[0] != "files"]
    assert broken(tmp_path, *downwards) == []


@pytest.mark.parametrize(("importer", "imported"), UPWARDS + ACROSS)
def test_an_arrow_up_or_across_breaks_the_layers(tmp_path, importer, imported):
    assert "layers" in broken(tmp_path, (importer, imported))


@pytest.mark.parametrize("imported", [*OUTSIDE, "stillwell.files"])
def test_the_pure_middle_asks_nobody(tmp_path, imported):
    assert broken(tmp_path, ("record", imported)) == ["pure"]


@pytest.mark.parametrize("importer", [name for name in NAMES if name not in EDGES])
def test_all_but_the_edges_is_pure(tmp_path, importer):
    assert broken(tmp_path, (importer, "time")) == ["pure"]


def test_the_edges_may_ask(tmp_path):
    assert broken(tmp_path, *((edge, name) for edge in EDGES for name in OUTSIDE)) == []


@pytest.mark.parametrize(("importer", "imported"), HEAVY)
def test_the_light_ones_stay_light(tmp_path, importer, imported):
    assert broken(tmp_path, (importer, imported)) == ["light"]


def test_a_detour_is_no_excuse(tmp_path):
    assert broken(tmp_path, ("wording", "stillwell.replay"), ("replay", "socket")) == ["pure"]


def test_a_circle_inside_a_folder_breaks(tmp_path):
    circle = ("plan.read", "stillwell.plan.write"), ("plan.write", "stillwell.plan.read")
    assert broken(tmp_path, *circle) == ["acyclic"]


def test_a_folder_without_a_place_breaks(tmp_path):
    assert broken(tmp_path, extra=("helpers",)) == ["layers"]


def test_the_page_on_the_reasons_shows_these_layers():
    page = (ROOT / "docs/why.md").read_text("utf-8")
    shown = [re.split(r" {2,}", row)[0].split(" | ") for row in page.split("```\n")[1].splitlines()]
    assert shown == LAYERS
