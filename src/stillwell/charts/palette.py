"""The look of every chart: ink on paper. Shades differ in lightness, marks in shape, so that grey print reads too."""

from typing import Any, Final

from stillwell.charts.look import LIGHT

PAPER: Final = LIGHT.paper
INK: Final = LIGHT.ink
QUIET_INK: Final = LIGHT.quiet_ink
HAIRLINE: Final = LIGHT.hairline
SHADE: Final = LIGHT.shade
SHADES: Final = LIGHT.shades
"""From little to much."""
WARNING: Final = LIGHT.warning

SHAPES: Final = ("circle", "square", "triangle-up", "diamond", "triangle-down", "cross", "triangle-right")
MARKS: Final = tuple(zip(LIGHT.marks, SHAPES, strict=True))
"""Colour and shape of each kind of mark, in order; there are no more kinds than these on one chart."""

FONT: Final = "sans-serif"
SMALL: Final = 12
PLAIN: Final = 13
LARGE: Final = 17


def look() -> dict[str, Any]:
    """Return the part of a chart's specification that all charts share."""
    return {
        "background": PAPER,
        "padding": 16,
        "font": FONT,
        "view": {"stroke": None},
        "axis": {
            "labelFont": FONT,
            "labelFontSize": SMALL,
            "labelColor": INK,
            "titleFont": FONT,
            "titleFontSize": PLAIN,
            "titleFontWeight": "normal",
            "titleColor": QUIET_INK,
            "domain": False,
            "ticks": False,
            "labelPadding": 6,
            "gridColor": HAIRLINE,
        },
        "legend": {
            "labelFont": FONT,
            "labelFontSize": SMALL,
            "labelColor": INK,
            "labelLimit": 260,
            "titleFont": FONT,
            "titleFontSize": SMALL,
            "titleFontWeight": "normal",
            "titleColor": QUIET_INK,
            "titleLimit": 400,
            "columnPadding": 16,
            "layout": {"top": {"margin": 28, "anchor": "start"}},
        },
        "title": {
            "font": FONT,
            "fontSize": LARGE,
            "fontWeight": "bold",
            "color": INK,
            "subtitleFont": FONT,
            "subtitleFontSize": PLAIN,
            "subtitleColor": QUIET_INK,
            "subtitlePadding": 6,
            "anchor": "start",
            "frame": "group",
            "offset": 12,
        },
    }
