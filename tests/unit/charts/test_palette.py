"""Contrast by the formulas of W3C, Web Content Accessibility Guidelines 2.2: relative luminance and contrast ratio;
text needs 4.5 to 1 (1.4.3), marks that carry meaning 3 to 1 (1.4.11)."""

from itertools import pairwise

import pytest

from stillwell.charts.palette import INK, MARKS, PAPER, QUIET_INK, SHADE, SHADES, SMALL, WARNING, look


def luminance(colour):
    channels = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4 for value in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other):
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


@pytest.mark.parametrize(("text", "ground"), [(INK, PAPER), (QUIET_INK, PAPER), (QUIET_INK, SHADE), (WARNING, PAPER)])
def test_text_can_be_read(text, ground):
    assert contrast(text, ground) >= 4.5


@pytest.mark.parametrize("colour", [colour for colour, _ in MARKS])
def test_marks_stand_out_from_the_paper(colour):
    assert contrast(colour, PAPER) >= 3


def test_shades_go_from_light_to_dark_and_can_be_told_apart_in_grey():
    assert all(contrast(lighter, darker) >= 1.7 for lighter, darker in pairwise((PAPER, *SHADES)))
    assert [luminance(shade) for shade in SHADES] == sorted((luminance(shade) for shade in SHADES), reverse=True)


def test_marks_differ_in_shape_so_that_colour_is_not_needed():
    assert len({shape for _, shape in MARKS}) == len({colour for colour, _ in MARKS}) == len(MARKS)


def test_no_type_is_smaller_than_12_pixels():
    sizes = [
        value for part in look().values() if isinstance(part, dict) for key, value in part.items() if "FontSize" in key
    ]
    assert min(sizes) >= SMALL == 12
