"""Silence against the limit over a day: it grows after each sign of life, and the limit lies as a line across it."""

from typing import Final

import numpy as np

from stillwell.charts.part_lanes import PIXELS
from stillwell.charts.svg import number, tag
from stillwell.civiltime import Span
from stillwell.record.columns import Times

HIGH: Final = 100
_LEAST_WIDE: Final = 0.5
"""Silences of less than so many pixels are left out: they do not show."""


def silence_lane(signs: Times, limits: Times, window: Span) -> tuple[str, int]:
    """Return the drawing and how much its height stands for, in ms.

    ``limits`` say how long silence may last after each of the sorted ``signs``, both also of before the window.
    """
    start, end = window
    until = np.append(signs[1:], end)[: len(signs)]
    shown = (until > start) & (signs < end) & ((until - signs) * PIXELS >= _LEAST_WIDE * (end - start))
    signs, until, limits = signs[shown], np.minimum(until[shown], end), limits[shown]
    top = int(max(1, *(until - signs).tolist(), *limits.tolist())) if len(signs) else 1
    top = round(top * 1.08)

    def x(at_ms: int) -> str:
        return number(round((at_ms - start) * PIXELS / (end - start), 1))

    def y(length_ms: int) -> str:
        return number(round(HIGH - length_ms * HIGH / top, 1))

    teeth, lines, over = [], [], []
    for sign, stop, limit in zip(signs.tolist(), until.tolist(), limits.tolist(), strict=True):
        begin = max(sign, start)
        teeth.append(f"M{x(begin)} {HIGH}V{y(begin - sign)}L{x(stop)} {y(stop - sign)}V{HIGH}Z")
        lines.append(f"M{x(begin)} {y(limit)}H{x(stop)}")
        if stop - sign > limit:
            past = max(sign + limit, begin)
            over.append(f"M{x(past)} {y(limit)}V{y(past - sign)}L{x(stop)} {y(stop - sign)}V{y(limit)}Z")
    layers = ((teeth, "grows"), (over, "late"), (lines, "limit"))
    drawn = [tag("path", d="".join(pieces), class_=look) for pieces, look in layers if pieces]
    drawing = tag(
        "svg",
        drawn,
        viewBox=f"0 0 {PIXELS} {HIGH}",
        preserveAspectRatio="none",
        class_="silence",
        width="100%",
        aria_hidden="true",
    )
    return drawing, top
