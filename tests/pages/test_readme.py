"""The ten minutes of the README, walked as they stand there: each edit made, each command run, each line compared.

``...`` stands for lines left out. What the tour leaves behind is made first, with the tour's own command.
"""

import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text("utf-8")
WALK = README.partition("## Ten minutes")[2].partition("## Install")[0]
BLOCKS = re.findall(r"```(diff|console)\n(.*?)```", WALK, re.DOTALL)


def printed(line, folder):
    name, *arguments = shlex.split(line)
    if name == "stillwell":
        name = str(Path(sys.executable).with_name("stillwell"))
    wide = os.environ | {"COLUMNS": "100"}
    done = subprocess.run([name, *arguments], cwd=folder, env=wide, capture_output=True, text=True, check=False)
    return f"\n{done.stdout}{done.stderr}"


def hold(shown, said):
    """Find the shown pieces in what was said, in order; without dots at an end, right there."""
    pieces = f"\n{shown}".split("\n...")
    assert said.startswith(pieces[0]), said
    assert said.endswith(pieces[-1]), said
    for piece in pieces:
        at = said.find(piece)
        assert at >= 0, f"the README shows{piece}\nwhere this was printed:{said}"
        said = said[at + len(piece) :]


def edited(text, change):
    old, new = (line[1:] for line in change.splitlines())
    assert text.count(old) == 1
    return text.replace(old, new)


def test_the_ten_minutes_are_as_the_readme_says(tmp_path):
    (tmp_path / "examples").symlink_to(ROOT / "examples")
    tour = re.search(r"^run (simulate .*)$", (ROOT / "examples/demo.sh").read_text("utf-8"), re.MULTILINE)
    printed(f"stillwell {tour.group(1)}", tmp_path)
    mine = tmp_path / "out/mine/home.toml"
    for sort, block in BLOCKS:
        if sort == "diff":
            mine.write_text(edited(mine.read_text("utf-8"), block), "utf-8")
        else:
            line, _, shown = block.replace("\\\n", "").removeprefix("$ ").partition("\n")
            hold(shown, printed(line, tmp_path))


def test_every_page_the_readme_names_is_there():
    named = re.findall(r"\]\(([^)#]+)\)", README)
    assert named
    assert [name for name in named if not (ROOT / name).exists()] == []


def test_every_target_the_readme_names_is_in_the_makefile():
    targets = set(re.findall(r"^([a-z]+):", (ROOT / "Makefile").read_text("utf-8"), re.MULTILINE))
    assert set(re.findall(r"\bmake ([a-z]+)\b", README)) <= targets
