"""Where values stand in a TOML text, judged by another reader: Python's own ``tomllib``.

The text cut out at the place given for a path must read as the value that ``tomllib`` has at that path.
"""

import re
import tomllib
from pathlib import Path
from typing import Any

import pytest
import tomlkit
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from stillwell.plan.positions import Positions, string_offsets

pytestmark = pytest.mark.base

ROOT = Path(__file__).parents[2]
PLANS = sorted([*ROOT.glob("examples/*/home.toml"), ROOT / "tests/unit/plan/small.toml"])

# Invented, along the headings of the TOML 1.0 specification: keys, strings, arrays, inline tables, tables.
NASTY = """
bare_key = 1
bare-key = 2
1234 = "digits"
"quoted key" = 'é before'   # remark = "not a key"
'literal.key' = "tab\\there, \\u00e9 and \\U0001F600, 😀 \\"quoted\\""
a . b."c d".e = 4.5
list = [ 1, # one
  [ 'x', "y" ], { p = 1, q.r = [2, 3] }, # three
]
text = \"\"\"
first line \\
     joined
"" two quotes, and at the end two more\"\"\"\"\"
raw = '''
\\no escape
'''
dates = [ 1979-05-27T07:32:00Z, 1979-05-27, 07:32:00 ]
empty = { }

[ table . "sub table" ]   # remark
key = true
[[many]]
n = 1
[many.inner]
z = "in the first"
[[many.deep]]
y = 1
[[many.deep]]
y = 2
[[many]]
n = 2
[[many.deep]]
y = 3
[[many.deep.deeper]]
x = 1
"""


def leaves(value: Any, path: tuple = ()):
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from leaves(inner, (*path, key))
    elif isinstance(value, list):
        for number, inner in enumerate(value):
            yield from leaves(inner, (*path, number))
    else:
        yield path, value


def judge(text: str) -> None:
    positions = Positions(text)
    lines = text.split("\n")
    for path, value in leaves(tomllib.loads(text)):
        spot = positions.spot(path)
        assert spot is not None, path
        assert spot.value is not None, path
        raw = text[slice(*spot.value)]
        assert tomllib.loads(f"x = {raw}") == {"x": value}, path
        line, column = positions.place(path)
        assert lines[line - 1][column - 1 :].startswith(raw.split("\n")[0].rstrip("\r"))
        if isinstance(value, str):
            judge_inside(raw, value)


def judge_inside(raw: str, value: str) -> None:
    """Each character of the value is found in the raw text, or an escape that reads as it."""
    offsets = string_offsets(raw)
    assert len(offsets) == len(value) + 1
    for start, end, character in zip(offsets[:-1], offsets[1:], value, strict=True):
        if raw[0] == '"' and raw[start] == "\\":
            escape = re.match(r"\\(u.{4}|U.{8}|.)", raw[start:end]).group()
            assert tomllib.loads(f'x = "{escape}"') == {"x": character}
        else:
            assert raw[start] == character or raw[start : start + 2] == "\r\n"


@pytest.mark.parametrize("file", PLANS, ids=lambda file: file.parent.name)
def test_plans(file):
    judge(file.read_text("utf-8"))


@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_every_way_to_write_toml(newline):
    judge(NASTY.replace("\n", newline))


plain_keys = st.sampled_from(["a", "b", "k1", "x-y", "d_", "7"])
keys = st.one_of(plain_keys, st.text(max_size=4).map(lambda text: tomlkit.item(text).as_string()))
texts = st.one_of(
    st.text(max_size=12).map(lambda text: tomlkit.item(text).as_string()),
    st.text(max_size=12).map(lambda text: tomlkit.string(text, multiline=True).as_string()),
    st.text(alphabet='ab "\\\né', max_size=12).map(lambda text: f"'''{text}'''"),
    st.text(alphabet='ab "\\é', max_size=12).map(lambda text: f"'{text}'"),
    st.text(alphabet="ab '\n\\é\t ", max_size=12).map(lambda text: f'"""{text}"""'),
)
scalars = st.one_of(
    texts,
    st.integers(-(2**62), 2**62).map(str),
    st.floats(allow_nan=False).map(repr),
    st.booleans().map(lambda value: str(value).lower()),
    st.dates().map(str),
    st.sampled_from(["0x1f", "1_000", "+3", "inf", "1e3", "07:30:00.5"]),
)
gaps = st.sampled_from(["", " ", "\n", " # x = [1]\n", "\t"])


@st.composite
def lists_of(draw, inner):
    pieces = [f"{draw(gaps)}{draw(inner)}{draw(gaps)}" for _ in range(draw(st.integers(0, 3)))]
    return "[" + ",".join(pieces) + draw(st.sampled_from(["]", ",]" if pieces else "]"]))


@st.composite
def inline_tables_of(draw, inner):
    names = draw(st.lists(keys, max_size=3, unique=True))
    return "{" + ", ".join(f"{name} = {draw(inner)}" for name in names) + "}"


values = st.recursive(scalars, lambda inner: lists_of(inner) | inline_tables_of(inner), max_leaves=6)
dotted = st.lists(keys, min_size=1, max_size=3).map(".".join)
statements = st.one_of(
    st.tuples(dotted, values).map(lambda pair: f"{pair[0]} = {pair[1]}"),
    dotted.map("[{}]".format),
    dotted.map("[[{}]] # [no.table]".format),
    st.just("# é = 1"),
)


@settings(max_examples=200, deadline=None)
@given(st.lists(statements, min_size=1, max_size=7).map("\n".join))
def test_made_up_toml(text):
    try:
        tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        assume(False)
    judge(text)
