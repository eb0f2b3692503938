"""Both looks hold the contrasts of W3C, Web Content Accessibility Guidelines 2.2.

Text 4.5 to 1 (1.4.3), marks and lines that carry meaning 3 to 1 (1.4.11).
"""

import re
from dataclasses import fields

import pytest
from tests.unit.charts.test_palette import contrast

from stillwell.charts.look import DARK, LIGHT, css_variables, for_page, in_look

LOOKS = pytest.mark.parametrize("look", [LIGHT, DARK], ids=["light", "dark"])
GROUNDS = ("paper", "raised", "shade", "wash")


@LOOKS
@pytest.mark.parametrize("ground", GROUNDS)
@pytest.mark.parametrize("text", ["ink", "quiet_ink", "warning", "water", "well"])
def test_text_can_be_read_on_every_ground(look, text, ground):
    assert contrast(getattr(look, text), getattr(look, ground)) >= 4.5


@LOOKS
def test_what_carries_meaning_stands_out(look):
    for ground in ("paper", "raised"):
        for colour in (*look.marks, look.rule, look.water, look.warning):
            assert contrast(colour, getattr(look, ground)) >= 3


@LOOKS
def test_the_deadline_can_be_seen_in_the_water_and_beside_it(look):
    """The line of the deadline is ink, drawn over water and over the sheet."""
    assert contrast(look.ink, look.deep) >= 3
    assert contrast(look.ink, look.raised) >= 3


@LOOKS
def test_ink_goes_from_faint_to_full(look):
    steps = [contrast(shade, look.paper) for shade in look.shades]
    assert steps == sorted(steps)
    assert look.shades[-1] == look.ink
    assert look.marks[0] == look.warning


@LOOKS
def test_a_style_sheet_gets_every_colour(look):
    found = dict(re.findall(r"--([a-z0-9-]+): (#[0-9a-f]{6});", css_variables(look)))
    flat = [colour for field in fields(look) for colour in _listed(getattr(look, field.name))]
    assert list(found.values()) == flat
    assert found["quiet-ink"] == look.quiet_ink
    assert found["mark-7"] == look.marks[6]


def test_a_specification_changes_all_its_colours_and_nothing_else():
    spec = {"background": LIGHT.paper, "layer": [{"mark": {"color": LIGHT.ink, "size": 3}}], "range": list(LIGHT.marks)}
    found = in_look(spec, DARK)
    assert found == {
        "background": DARK.paper,
        "layer": [{"mark": {"color": DARK.ink, "size": 3}}],
        "range": list(DARK.marks),
    }
    assert in_look(spec, LIGHT) == spec
    assert spec["background"] == LIGHT.paper  # the one handed in stays as it was


def test_no_colour_of_the_light_look_stands_for_two_of_the_dark():
    """Else an exchange by colour would be wrong."""
    pairs = {}
    for field in fields(LIGHT):
        for one, other in zip(_listed(getattr(LIGHT, field.name)), _listed(getattr(DARK, field.name)), strict=True):
            pairs.setdefault(one, set()).add(other)
    assert {one: others for one, others in pairs.items() if len(others) > 1} == {}


def test_type_on_a_page_is_16_pixels_and_more():
    spec = {
        "config": {"axis": {"labelFontSize": 12, "labelPadding": 6}, "title": {"fontSize": 17}},
        "layer": [{"fontSize": 11}],
    }
    assert for_page(spec) == {
        "config": {"axis": {"labelFontSize": 16, "labelPadding": 6}, "title": {"fontSize": 17}},
        "layer": [{"fontSize": 16}],
    }


def _listed(value):
    return [value] if isinstance(value, str) else list(value)
