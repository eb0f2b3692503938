"""Elements are well-formed XML whatever is written into them: XML 1.0, 2.4 says what must be escaped."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.drawn import read

from stillwell.charts.svg import number, percent, tag, text, title

pytestmark = pytest.mark.base

WRITTEN = st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Co", "Cn")))


@given(WRITTEN, WRITTEN)
def test_what_is_written_comes_back_as_it_was(said, value):
    found = read(tag("g", [title(said), tag("text", [text(said)])], class_=value))
    assert [each.text or "" for each in found] == [said, said]
    assert (found.get("class") or "").split() == value.split()


def test_a_script_is_text():
    found = read(tag("text", [text("<script>alert(1)</script>")], id='"><script>'))
    assert list(found) == []
    assert found.text == "<script>alert(1)</script>"


def test_names_of_attributes_are_those_of_svg():
    found = read(tag("svg", viewBox="0 0 1 1", preserveAspectRatio="none", stroke_width=2, class_="a", height=None))
    assert found.attrib == {"viewBox": "0 0 1 1", "preserveAspectRatio": "none", "stroke-width": "2", "class": "a"}


@pytest.mark.parametrize(("value", "written"), [(3, "3"), (3.0, "3"), (0.1234, "0.123"), (2.5, "2.5"), (100.0, "100")])
def test_numbers_are_short(value, written):
    assert number(value) == written


def test_a_share_is_per_cent():
    assert (percent(0), percent(0.125), percent(1)) == ("0%", "12.5%", "100%")
