"""Any value of a plan can be set to any other: judged by Python's own ``tomllib``."""

import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stillwell.plan.edit import append_entry, set_value

pytestmark = pytest.mark.base

TEXT = (Path(__file__).parents[2] / "examples/cottage/home.toml").read_text("utf-8")
DATA = tomllib.loads(TEXT)


def leaves(value: Any, path: tuple = ()):
    pairs = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, inner in pairs:
        yield from leaves(inner, (*path, key))
    if not isinstance(value, (dict, list)):
        yield path


scalars = st.one_of(
    st.text(max_size=20),
    st.booleans(),
    st.integers(-(2**63), 2**63 - 1),
    st.floats(allow_nan=False, allow_infinity=False),
)
values = st.recursive(
    scalars,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=5,
)


@given(st.sampled_from(list(leaves(DATA))), values)
def test_a_value_is_set_and_nothing_else(path, value):
    changed = set_value(TEXT, path, value)
    expected = tomllib.loads(TEXT)
    inner = expected
    for key in path[:-1]:
        inner = inner[key]
    inner[path[-1]] = value
    assert tomllib.loads(changed) == expected
    assert remarks(changed) == remarks(TEXT)
    lines, old = changed.split("\n"), TEXT.split("\n")
    assert sum(a != b for a, b in zip(lines, old, strict=False)) <= 1 or len(lines) < len(old)


def remarks(text: str) -> list[str]:
    return [line for line in text.split("\n") if line.lstrip().startswith("#")]


@given(st.dictionaries(st.text(min_size=1, max_size=5), values, max_size=4), st.sampled_from(["parts", "aid", "never"]))
def test_an_entry_is_added_and_nothing_else(entry, table):
    is_list = table != "parts"
    changed = append_entry(TEXT, (table,) if is_list else (table, "new_part"), entry)
    expected = tomllib.loads(TEXT)
    if is_list:
        expected[table].append(entry)
    else:
        expected[table]["new_part"] = entry
    assert tomllib.loads(changed) == expected
