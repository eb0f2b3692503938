"""The contracts in .importlinter hold what they say: each forbidden arrow, drawn in a bare skeleton, breaks them."""

import subprocess
import sys
from configparser import ConfigParser
from itertools import pairwise
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
CONTRACTS = ROOT / ".importlinter"
IMPURE = {"store", "channels", "files"}

RULES = ConfigParser()
RULES.read_string(CONTRACTS.read_text("utf-8"))


def said_in(contract, key):
    return RULES[f"importlinter:contract:{contract}"][key]


LAYERS = [[name.strip(" ()") for name in line.split("|")] for line in said_in("layers", "layers").strip().splitlines()]
NAMES = [name for layer in LAYERS for name in layer]

# A layer may import the next one below; so each of these is an arrow the wrong way.
UPWARDS = [(below[0], f"stillwell.{above[0]}") for above, below in pairwise(LAYERS)]
ACROSS = [(left, f"stillwell.{right}") for layer in LAYERS for left, right in pairwise(layer)]
OUTSIDE = [("engine", name) for name in said_in("pure", "forbidden_modules").split() if name != "stillwell.files"]
HEAVY = [(name.removeprefix("stillwell."), "numpy") for name in said_in("light", "source_modules").split()]


def broken(folder, *arrows, extra=()):
    """Lint a bare skeleton of every layer, present and to come, with these arrows in it; name what breaks."""
    package = folder / "stillwell"
    for name in ("", *NAMES, *extra):
        (package / name).mkdir(parents=True)
        (package / name / "__init__.py").touch()
    for importer, imported in arrows:
        place, _, module = importer.partition(".")
        (package / place / f"{module or 'arrow'}.py").write_text(f"import {imported}\n", "utf-8")
    (folder / ".importlinter").write_text(CONTRACTS.read_text("utf-8"), "utf-8")
    lint = str(Path(sys.executable).with_name("lint-imports"))
    done = subprocess.run([lint, "--no-cache"], cwd=folder, capture_output=True, text=True, timeout=60, check=False)
    contracts = [name.rpartition(":")[2] for name in RULES.sections() if ":" in name]
    verdicts = [line for line in done.stdout.splitlines() if line.endswith(("KEPT", "BROKEN"))]
    assert len(verdicts) == len(contracts), done.stdout + done.stderr
    found = [name for name, line in zip(contracts, verdicts, strict=True) if line.endswith("BROKEN")]
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


@pytest.mark.parametrize(("importer", "imported"), [*OUTSIDE, ("record", "stillwell.files")])
def test_the_pure_middle_asks_nobody(tmp_path, importer, imported):
    assert broken(tmp_path, (importer, imported)) == ["pure"]


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


def test_every_pure_folder_there_is_stands_under_the_pure_contract():
    edge = next(number for number, layer in enumerate(LAYERS) if "documents" in layer)
    there = {path.stem for path in (ROOT / "src/stillwell").iterdir()}
    pure = {name for layer in LAYERS[edge:] for name in layer if name not in IMPURE}
    assert {f"stillwell.{name}" for name in pure & there} == set(said_in("pure", "source_modules").split())
