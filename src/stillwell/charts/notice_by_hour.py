"""How long until somebody is told, by the hour at which silence begins."""

from collections.abc import Iterator, Sequence
from typing import Any, Final

from stillwell.charts.deadlines import Deadline
from stillwell.charts.desk import altair, specification
from stillwell.charts.palette import PAPER, SHADES, SMALL, WARNING
from stillwell.replay.distribution import Spread
from stillwell.wording.counting import share

WIDTH: Final = 864
HEIGHT: Final = 360
_HOUR_MS: Final = 3_600_000
_SIZES: Final = ("half the time", "19 times in 20", "at the longest")
_DEADLINE: Final = "deadline"
_HEADROOM: Final = 1.04
_ABOVE, _ABOVE_NEVER = 16, 38
_LEFT_OF_HOURS: Final = -0.15


def notice_by_hour(
    by_hour: Sequence[Spread], deadlines: Sequence[Deadline], title: str, subtitle: str = ""
) -> dict[str, Any]:
    """Return the Vega-Lite specification. ``by_hour`` holds the 24 local hours of onset.

    Bars reach from nothing to the median, to what 95 % of the onsets do not exceed, and to the longest. Hours with
    onsets of which nobody would ever be told say so at the top. Raises Refusal where charts cannot be drawn.
    """
    alt = altair()
    top = _top(by_hour, deadlines)
    offset = _ABOVE_NEVER if any(spread.never_share > 0 for spread in by_hour) else _ABOVE
    data = {
        "sizes": list(_sizes(by_hour)),
        "never": list(_never(by_hour, top)),
        "deadlines": [
            {"x": each.left, "x2": each.right, "y": each.within_ms / _HOUR_MS, "size": _DEADLINE} for each in deadlines
        ],
    }
    x = alt.X(
        "x:Q",
        scale=alt.Scale(domain=[0, 24], nice=False),
        axis=alt.Axis(
            title="silence begins at",
            values=list(range(0, 25, 3)),
            labelExpr="(datum.value < 10 ? '0' : '') + datum.value + ':00'",
            grid=False,
        ),
    )
    y = alt.Y(
        "y:Q",
        scale=alt.Scale(domain=[0, top], nice=False),
        axis=alt.Axis(title="hours until somebody is told", tickCount=8, tickMinStep=1, grid=True),
    )
    colours = alt.Scale(domain=[*_SIZES], range=list(SHADES))
    layers = {
        "sizes": alt.Chart(alt.NamedData(name="sizes"))
        .mark_rect(stroke=PAPER, strokeWidth=1)
        .encode(
            x=x,
            x2="x2:Q",
            y=y,
            y2="y2:Q",
            color=alt.Color(
                "size:N",
                scale=colours,
                legend=alt.Legend(title="somebody is told within", orient="top", symbolType="square", offset=offset),
            ),
        ),
        "never": alt.Chart(alt.NamedData(name="never"))
        .mark_text(
            fontSize=SMALL, color=WARNING, baseline="bottom", align=alt.expr("datum.x < 0 ? 'right' : 'center'"), dy=-4
        )
        .encode(x=x, y=y, text="text:N"),
        "deadlines": alt.Chart(alt.NamedData(name="deadlines"))
        .mark_rule(strokeWidth=2.5, strokeDash=[6, 3])
        .encode(
            x=x,
            x2="x2:Q",
            y=y,
            stroke=alt.Stroke(
                "size:N",
                scale=alt.Scale(domain=[_DEADLINE], range=[WARNING]),
                legend=alt.Legend(title=" ", orient="top", symbolType="stroke", symbolStrokeWidth=2.5, offset=offset),
            ),
        ),
    }
    drawn = [layer for name, layer in layers.items() if data[name]] or [layers["sizes"]]
    chart = (
        alt.layer(*drawn)
        .resolve_scale(color="independent", stroke="independent")
        .properties(
            width=WIDTH,
            height=HEIGHT,
            title=alt.Title(title, subtitle=subtitle) if subtitle else alt.Title(title),
        )
    )
    return specification(chart, data)


def _top(by_hour: Sequence[Spread], deadlines: Sequence[Deadline]) -> float:
    seconds = [size for spread in by_hour for size in (spread.median, spread.p95, spread.max) if size is not None]
    hours = [size / 3600 for size in seconds] + [each.within_ms / _HOUR_MS for each in deadlines]
    return max(hours, default=1.0) * _HEADROOM


def _sizes(by_hour: Sequence[Spread]) -> Iterator[dict[str, Any]]:
    for hour, spread in enumerate(by_hour):
        below = 0.0
        for size, seconds in zip(_SIZES, (spread.median, spread.p95, spread.max), strict=True):
            if seconds is not None and seconds / 3600 > below:
                yield {"x": hour + 0.08, "x2": hour + 0.92, "y": below, "y2": seconds / 3600, "size": size}
                below = seconds / 3600


def _never(by_hour: Sequence[Spread], top: float) -> Iterator[dict[str, Any]]:
    """Yield the shares of onsets of which nobody is ever told, and ahead of them what they are."""
    shares = [(hour, spread.never_share) for hour, spread in enumerate(by_hour) if spread.never_share > 0]
    if shares:
        yield {"x": _LEFT_OF_HOURS, "y": top, "text": "never"}
    for hour, never in shares:
        yield {"x": hour + 0.5, "y": top, "text": share(never)}
