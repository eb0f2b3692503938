"""Any text is a plan or a clear refusal: never another exception, never without end.

What was found once is kept as an explicit example.
"""

from datetime import timedelta
from pathlib import Path

import pytest
import tomlkit
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from stillwell.plan.fields import keys_at
from stillwell.plan.model import Plan
from stillwell.plan.read import read_plan
from stillwell.problem import Refusal

pytestmark = pytest.mark.base

ROOT = Path(__file__).parents[2]
COTTAGE = (ROOT / "examples/cottage/home.toml").read_text("utf-8")
SMALL = (ROOT / "tests/unit/plan/small.toml").read_text("utf-8")
LINES = COTTAGE.split("\n")
VALUES = sorted({line.partition("=")[2].strip() for line in LINES if "=" in line})

# What the library that checks the shape would say; a person must never read it.
FOREIGN_WORDS = ("input should", "validation", "pydantic", "lark", "extra inputs", "field required", "tomllib")

FUZZ = settings(
    max_examples=150,
    deadline=timedelta(seconds=5),
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


def read(text: str) -> Plan | None:
    """Read a text; where it is refused, look at the refusal."""
    try:
        return read_plan(text, "home.toml")
    except Refusal as refusal:
        problems = refusal.problems
    assert problems
    for problem in problems:
        assert problem.code
        assert problem.code != "unfit", "pydantic has a kind of error that has no sentence yet"
        assert problem.what.strip()
        assert "\n" not in problem.what
        assert problem.place.file == "home.toml"
        assert 1 <= (problem.place.line or 1) <= text.count("\n") + 1
        told = f"{problem.what} {problem.remedy}".casefold()
        assert not any(word in told for word in FOREIGN_WORDS if word not in text.casefold())
    return None


@FUZZ
@given(st.text())
@example("\ufeff")
@example("\x00")
@example("a='''\r'''")
def test_any_text(text):
    read(text)


@FUZZ
@given(st.text(alphabet="[]{}=.,\"'#\n abhomertyp019-_\\é", max_size=60))
def test_text_that_looks_like_tables(text):
    read(text)


WILD = ["3", "-1", "1e400", "nan", "true", '""', "[]", "{}", "2026-01-01", "[[]]", '"\\u0000"', "1_0", "0x1F"]
WILD += ['"""\n"""', "[[1,2],[3,4]]", '{ call = "1s" }', '["a.b on for 3h"]', '"' + "not " * 200 + 'a"']

mutation = st.one_of(
    st.tuples(st.just("delete"), st.integers(0, len(LINES) - 1)),
    st.tuples(st.just("double"), st.integers(0, len(LINES) - 1)),
    st.tuples(st.just("swap"), st.integers(0, len(LINES) - 1), st.integers(0, len(LINES) - 1)),
    st.tuples(st.just("value"), st.integers(0, len(LINES) - 1), st.sampled_from(VALUES)),
    st.tuples(st.just("garble"), st.integers(0, len(LINES) - 1), st.integers(0, 40), st.text(max_size=8)),
    st.tuples(st.just("value"), st.integers(0, len(LINES) - 1), st.sampled_from(WILD)),
)


def mutated(lines: list[str], changes: list[tuple]) -> str:
    lines = list(lines)
    for what, number, *rest in changes:
        key, equals, _ = lines[number].partition("=")
        match what:
            case "delete":
                lines[number] = ""
            case "double":
                lines[number] += "\n" + lines[number].split("\n")[0]
            case "swap":
                lines[number], lines[rest[0]] = lines[rest[0]], lines[number]
            case "value" if equals:
                lines[number] = f"{key}= {rest[0]}"
            case "garble":
                lines[number] = lines[number][: rest[0]] + rest[1] + lines[number][rest[0] :]
    return "\n".join(lines)


@FUZZ
@given(st.lists(mutation, min_size=1, max_size=6))
def test_a_garbled_cottage(changes):
    read(mutated(LINES, changes))


WORDS = ["hall", "lamp", "on", "off", "outside", "movement", "3h", "collapse", "hall.on", "no hall.on for 3h", "", "é"]
PIECES = """no not and or ( ) for within 3h 3 between 22:00 07:00 at on mon - tue is hall.on hall.movement holiday off
then without start of end < > 16C sunset +30min set to hall_lamp"""

words = st.sampled_from([*WORDS, "x" * 70])
rule_words = st.lists(st.sampled_from(PIECES.split()), max_size=12).map(" ".join)
scalar = st.one_of(words, rule_words, st.integers(), st.floats(), st.booleans(), st.text(max_size=5), st.dates())
value = st.recursive(
    scalar,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(words | st.text(max_size=3), inner, max_size=3),
    max_leaves=6,
)


def table_of(keys: tuple[str, ...]) -> st.SearchStrategy:
    return st.dictionaries(st.sampled_from(keys) | words, value, max_size=8)


@st.composite
def tables(draw: st.DrawFn) -> dict[str, object]:
    """Known tables and keys, wild values; sometimes on top of a plan that is fine."""
    data = tomlkit.parse(SMALL).unwrap() if draw(st.booleans()) else {}
    for table in draw(st.lists(st.sampled_from([*keys_at(()), "part", "alarms"]), max_size=4, unique=True)):
        keys = keys_at((table,)) or keys_at((table, 0)) or keys_at((table, "x")) or ("x",)
        inner = table_of(keys)
        data[table] = draw(
            st.one_of(inner, st.lists(inner, max_size=3), st.dictionaries(words, inner, max_size=3), value)
        )
    return data


@FUZZ
@given(tables())
def test_known_tables_with_wild_values(data):
    read(tomlkit.dumps(data))


DEEP = ["not " * 240 + "%s", "(" * 490 + "%s" + ")" * 490, "start of (" * 80 + "%s" + ")" * 80]
DEEP += ["(%s or " * 70 + "%s" + ")" * 70, "(%s then " * 33 + "%s" + " within 1h)" * 33, "no " * 300 + "%s"]


@pytest.mark.parametrize("shape", DEEP, ids=range(len(DEEP)))
@pytest.mark.parametrize("name", ["kettle.on", "door_opens", "nobody"])
def test_the_deepest_rules(shape, name):
    read(SMALL.replace("no sign_of_life for 3h", shape.replace("%s", name)))


def test_a_large_file_of_mistakes_ends_soon():
    lines = [f'[parts.p{number}]\nkind = "movemen"\nroom = "attic"\nhub = "h{number}"\n' for number in range(5000)]
    assert read(SMALL + "\n".join(lines)) is None
    rules = [f'[[aid]]\nname = "a{number}"\nwhen = "q{number}.z"\ndo = ["z{number} on"]\n' for number in range(400)]
    assert read(SMALL + "\n".join(rules)) is None
