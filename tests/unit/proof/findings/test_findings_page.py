"""docs/findings.md explains every code there is, with the degree it has in the code, and no other."""

import inspect
import re
from pathlib import Path

import pytest

from stillwell.proof.claims import reach
from stillwell.proof.findings import broken, fights, find, hazards, limits, parts, people, rules
from stillwell.proof.findings.finding import CODES

pytestmark = pytest.mark.base

PAGE = (Path(__file__).parents[4] / "docs" / "findings.md").read_text("utf-8")
SECTIONS = dict(re.findall(r"^### ([a-z-]+)\n\n(.*?)(?=^##|\Z)", PAGE, re.DOTALL | re.MULTILINE))
SOURCE = "\n".join(
    inspect.getsource(module) for module in (broken, fights, find, hazards, limits, parts, people, rules)
)


def test_every_code_has_its_section_and_no_other():
    assert sorted(SECTIONS) == sorted(CODES)


def test_every_code_is_given_by_some_look():
    assert set(re.findall(r'finding\(\s*(?:proof\.)?plan, "([a-z-]+)"', SOURCE)) == set(CODES)


@pytest.mark.parametrize("code", CODES)
def test_a_section_tells_the_degree(code):
    calls = re.findall(rf'"{code}",.*?(?=, text, remedy)', SOURCE, re.DOTALL)
    degrees = {degree for call in calls for degree in re.findall(r'"(danger|warning|note)"', call)}
    said = set(re.findall(r"\*(danger|warning|note)\b", SECTIONS[code].split("\n\n")[0]))
    assert said == (degrees or {"danger", "warning"})


def test_the_bounds_are_those_of_the_search():
    text = PAGE.replace("\n", " ")
    assert f"{reach.MOST_INSTANTS:,} instants in one search, {reach.MOST_SITUATIONS:,} situations" in text
    assert (reach.MOST_TIMERS, "ten timers at once" in text) == (10, True)
