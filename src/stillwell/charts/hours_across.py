"""The line of hours, or minutes, above drawings that any width may stretch."""

from collections.abc import Sequence
from typing import Final

from stillwell.charts.svg import number, percent, tag, text

HIGH: Final = 22
_EDGE: Final = 0.02


def hours_across(ticks: Sequence[tuple[float, str]]) -> str:
    """Return the line; ``ticks`` are places as shares of the width, and what is written there.

    Every second one is marked as fine, to be left out where there is little room.
    """
    drawn = []
    for index, (share, said) in enumerate(ticks):
        drawn.append(tag("line", x1=percent(share), x2=percent(share), y1=17, y2=HIGH, class_="tick"))
        anchor = "start" if share < _EDGE else "end" if share > 1 - _EDGE else "middle"
        look = "fine" if index % 2 else None
        drawn.append(tag("text", [text(said)], x=percent(share), y=number(14), text_anchor=anchor, class_=look))
    return tag("svg", drawn, class_="across", width="100%", height=HIGH, aria_hidden="true")


def day_hours() -> str:
    """Return the line above a sheet of days."""
    return hours_across([(hour / 24, f"{hour:02}") for hour in range(0, 25, 3)])
