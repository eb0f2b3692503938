"""What each part reported over a day, an hour or a few minutes: one lane a signal, drawn for a page."""

from collections.abc import Iterator
from typing import Final

import numpy as np

from stillwell.charts.svg import number, tag
from stillwell.civiltime import Span
from stillwell.record.columns import TRUE, UNKNOWN, Column, Pulses, Steps, Times

PIXELS: Final = 1440
_HIGH: Final = 10


def lane(column: Column, window: Span, until_ms: int) -> str:
    """Return the lane of a signal: pulses as ticks, a level as a bar while it is true, a number as a line.

    What falls into one pixel is drawn once. ``until_ms``: nothing is known from then on.
    """
    match column:
        case Pulses():
            drawn = [_ticks(column.times, window)]
        case Steps() if column.values.dtype == np.int8:
            drawn = [_bars(column, window, until_ms, *look) for look in ((TRUE, "held"), (UNKNOWN, "unknown"))]
        case _:
            drawn = [_line(column, window, until_ms)]
    return tag(
        "svg",
        drawn,
        viewBox=f"0 0 {PIXELS} {_HIGH}",
        preserveAspectRatio="none",
        class_="lane",
        width="100%",
        aria_hidden="true",
    )


def _pixels(times: Times, window: Span) -> Times:
    start, end = window
    inside = times[(times >= start) & (times < end)]
    found: Times = (inside - start) * PIXELS // (end - start)
    return found


def _ticks(times: Times, window: Span) -> str:
    pixels = np.unique(_pixels(times, window)).tolist()
    return tag("path", d="".join(f"M{at}.5 1V9" for at in pixels), class_="tick") if pixels else ""


def _bars(level: Steps, window: Span, until_ms: int, value: int, look: str) -> str:
    pieces = []
    for start, end in _stretches(level, (window[0], min(until_ms, window[1])), value):
        left = round((start - window[0]) * PIXELS / (window[1] - window[0]), 1)
        right = round((end - window[0]) * PIXELS / (window[1] - window[0]), 1)
        pieces.append(f"M{number(left)} 5h{number(max(right - left, 1))}")
    return tag("path", d="".join(pieces), class_=look) if pieces else ""


def _stretches(level: Steps, window: Span, value: int) -> Iterator[Span]:
    ends = np.append(level.times[1:], window[1])
    chosen = (level.values == value) & (ends > window[0]) & (level.times < window[1])
    starts = np.maximum(level.times[chosen], window[0]).tolist()
    stops = np.minimum(ends[chosen], window[1]).tolist()
    run: Span | None = None
    for start, stop in zip(starts, stops, strict=True):
        if run is not None and run[1] == start:
            run = run[0], stop
            continue
        if run is not None:
            yield run
        run = start, stop
    if run is not None:
        yield run


def _line(numbers: Steps, window: Span, until_ms: int) -> str:
    """Draw the last number of each pixel, from the least of the window at the foot to the greatest at the top."""
    known = np.isfinite(numbers.values) & (numbers.times < window[1])
    times, values = numbers.times[known], numbers.values[known]
    begin = max(int(np.searchsorted(times, window[0], "right")) - 1, 0)  # what stood before goes on
    times, values = np.maximum(times[begin:], window[0]), values[begin:]
    if not len(times):
        return ""
    pixels = _pixels(times, window)
    last = np.append(pixels[1:] != pixels[:-1], np.True_)
    values = values[last]
    low, high = float(values.min()), float(values.max())
    heights = np.full(len(values), 5.0) if high == low else 9 - 8 * (values - low) / (high - low)
    corners = list(zip(pixels[last].tolist(), (number(round(each, 1)) for each in heights.tolist()), strict=True))
    end = (min(until_ms, window[1]) - window[0]) * PIXELS // (window[1] - window[0])
    first, *rest = corners
    line = f"M{first[0]} {first[1]}" + "".join(f"H{across}V{high}" for across, high in rest) + f"H{max(end, first[0])}"
    return tag("path", d=line, class_="number")
