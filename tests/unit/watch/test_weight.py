"""The watch installs alone on a small board: how much that is, and what must not be among it.

The size is that of the files which the packages name as theirs, Python's compiled files among them, of everything that
`pip install stillwell[watch]` brings; of our own, which may be installed in place, the sources three times over, for
compiled files are about twice as large (measured: 2.0 MB and 3.9 MB).
"""

import re
from importlib.metadata import distribution
from pathlib import Path

from packaging.requirements import Requirement

import stillwell

MOST_BYTES = 120 * 10**6
HEAVY = {
    "altair", "arro3-core", "highspy", "matplotlib", "ortools", "pandas", "pillow", "pulp", "pyarrow", "pydyf",
    "reportlab", "scipy", "vl-convert-python", "weasyprint", "z3-solver",
}  # fmt: skip


def brought(name, extras=frozenset(), found=None):
    """Return every package that this one needs on this machine, itself included, by name."""
    found = {} if found is None else found
    key = re.sub(r"[-_.]+", "-", name).lower()
    if key in found and extras <= found[key]:
        return found
    found[key] = found.get(key, frozenset()) | extras
    for text in distribution(key).requires or ():
        need = Requirement(text)
        if need.marker is None or any(need.marker.evaluate({"extra": extra}) for extra in extras or {""}):
            brought(need.name, frozenset(need.extras), found)
    return found


def size(name):
    files = [Path(str(file.locate())) for file in distribution(name).files or ()]
    return sum(file.stat().st_size for file in files if file.exists())


def test_the_watch_is_light():
    names = set(brought("stillwell", frozenset({"watch"}))) - {"stillwell"}
    assert {"numpy", "aiomqtt", "apprise", "starlette"} <= names  # it is the right list
    assert not names & HEAVY
    package = Path(stillwell.__file__).parent
    ours = 3 * sum(file.stat().st_size for file in package.rglob("*") if file.is_file() and file.suffix != ".pyc")
    assert ours > 10**6
    sizes = {name: size(name) for name in names} | {"stillwell": ours}
    heaviest = sorted(sizes.items(), key=lambda one: -one[1])[:5]
    assert sum(sizes.values()) <= MOST_BYTES, heaviest
