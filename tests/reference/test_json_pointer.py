"""Pointers into payloads against the examples of RFC 6901, section 5 (and 3 for what is no pointer)."""

import json

import pytest
from pydantic import TypeAdapter, ValidationError

from stillwell.plan.model import Pointer
from stillwell.watch.payload import pointed

DOCUMENT = json.loads(r"""
{"foo": ["bar", "baz"], "": 0, "a/b": 1, "c%d": 2, "e^f": 3, "g|h": 4, "i\\j": 5, "k\"l": 6, " ": 7, "m~n": 8}
""")

# The whole document ("") is left out of plans: it is what a reading without a pointer takes.
EXAMPLES = [
    ("/foo", ["bar", "baz"]),
    ("/foo/0", "bar"),
    ("/", 0),
    ("/a~1b", 1),
    ("/c%d", 2),
    ("/e^f", 3),
    ("/g|h", 4),
    ("/i\\j", 5),
    ('/k"l', 6),
    ("/ ", 7),
    ("/m~0n", 8),
]


@pytest.mark.parametrize(("pointer", "value"), EXAMPLES)
def test_the_examples_of_section_5(pointer, value):
    assert TypeAdapter(Pointer).validate_python(pointer) == pointer
    assert pointed(DOCUMENT, pointer) == value


@pytest.mark.parametrize("pointer", ["foo", "/foo~", "/foo~2", "/m~n"])
def test_what_section_3_does_not_allow_is_refused_in_a_plan(pointer):
    with pytest.raises(ValidationError):
        TypeAdapter(Pointer).validate_python(pointer)


@pytest.mark.parametrize(
    "pointer", ["/bar", "/foo/2", "/foo/-", "/foo/01", "/foo/x", "/foo/0/x", "/foo/-1", "/foo/\u0661"]
)
def test_what_points_nowhere_by_section_4_gives_no_value(pointer):
    with pytest.raises(Exception, match="not where the plan says"):
        pointed(DOCUMENT, pointer)
