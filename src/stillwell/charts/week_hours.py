"""The hours of a week in which something holds, as one strip: when somebody can be reached."""

from collections.abc import Sequence
from typing import Final

from stillwell.charts.svg import number, tag, title
from stillwell.civiltime import Span

HOURS: Final = 168
_HOUR_MS: Final = 3_600_000


def week_hours(week: Span, nights: Sequence[Span], hours: Sequence[Span], said: str) -> str:
    """Return the strip of a week; ``hours`` are drawn as ink on its nights and days, ``said`` says them."""
    return tag(
        "svg",
        [
            title(said),
            *_bands(week, nights, 0, 10, "night"),
            *_bands(week, hours, 3, 4, "reachable"),
            *(tag("line", x1=24 * day, x2=24 * day, y1=0, y2=10, class_="midnight") for day in range(1, 7)),
        ],
        viewBox=f"0 0 {HOURS} 10",
        preserveAspectRatio="none",
        class_="week",
        width="100%",
        role="img",
    )


def _bands(week: Span, spans: Sequence[Span], top: float, high: float, look: str) -> list[str]:
    within = [(max(start, week[0]), min(end, week[1])) for start, end in spans]
    return [
        tag(
            "rect",
            x=number((start - week[0]) / _HOUR_MS),
            y=top,
            width=number((end - start) / _HOUR_MS),
            height=high,
            class_=look,
        )
        for start, end in within
        if start < end
    ]
