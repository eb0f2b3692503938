"""Notice time over the hours of a week: one panel a hazard, exact segments, the deadline, the worst, one fault more."""

from collections.abc import Iterator, Sequence
from typing import Any, Final
from zoneinfo import ZoneInfo

from stillwell.charts.desk import altair, specification
from stillwell.charts.notice_rows import DAYS, LINES, Panel, Rows
from stillwell.charts.palette import HAIRLINE, INK, MARKS, PAPER, QUIET_INK, SHADE, SMALL, WARNING
from stillwell.civiltime import local_datetime

WIDTH: Final = 864
TALL: Final = 300
LOW: Final = 92
_FAULT: Final = MARKS[1][0]
_HOUR_MS: Final = 3_600_000


def notice_curve(panels: Sequence[Panel], zone: ZoneInfo, title: str, subtitle: str = "") -> dict[str, Any]:
    """Return the Vega-Lite specification. Raises Refusal where charts cannot be drawn.

    Each panel shows a week: the one that was proved or, where a whole year was, the week about the worst onset.
    """
    alt = altair()
    height = TALL if len(panels) == 1 else LOW
    data: dict[str, list[dict[str, Any]]] = {}
    drawn = []
    for number, panel in enumerate(panels):
        rows = Rows(panel, zone)
        last = number == len(panels) - 1
        layers = _layers(alt, rows, number, data, legend=number == 0, days=last, height=height)
        head = alt.Title(panel.title, subtitle=panel.said, fontSize=14, subtitleFontSize=SMALL, offset=4)
        drawn.append(
            alt.layer(*layers).resolve_scale(color="independent").properties(width=WIDTH, height=height, title=head)
        )
    chart = alt.vconcat(*drawn, spacing=14).properties(
        title=alt.Title(title, subtitle=subtitle) if subtitle else alt.Title(title)
    )
    return specification(chart, data)


def _layers(
    alt: Any, rows: Rows, number: int, data: dict[str, list[dict[str, Any]]], *, legend: bool, days: bool, height: int
) -> list[Any]:
    def named(name: str, found: Iterator[dict[str, Any]]) -> Any:
        data[f"{name}{number}"] = list(found)
        return alt.Chart(alt.NamedData(name=f"{name}{number}"))

    noons = [24 * day + 12 for day in range(DAYS)]
    names = {str(noon): f"{local_datetime(rows.zone, rows.week[0] + noon * _HOUR_MS):%a}" for noon in noons}
    x = alt.X(
        "x:Q",
        scale=alt.Scale(domain=[0, DAYS * 24], nice=False),
        axis=alt.Axis(
            title=rows.title() if days else None,
            values=noons,
            labelExpr=f"{names}[datum.value]" if days else "''",
            grid=False,
        ),
    )
    y = alt.Y(
        "y:Q",
        scale=alt.Scale(domain=[0, rows.top if rows.has_never else rows.floor], nice=False),
        axis=alt.Axis(
            title=rows.unit, tickCount=max(2, height // 36), tickMinStep=1, grid=True, labelExpr=_below(rows.floor)
        ),
    )
    key = alt.Legend(title=None, orient="top", symbolType="stroke", symbolStrokeWidth=2.5, symbolSize=400)
    stroke = alt.Stroke(
        "line:N", scale=alt.Scale(domain=list(LINES), range=[INK, _FAULT, WARNING]), legend=key if legend else None
    )
    dash = alt.StrokeDash(
        "line:N",
        scale=alt.Scale(domain=list(LINES), range=[[1, 0], [2, 2], [7, 4]]),
        legend=key if legend else None,
    )
    midnights = ({"x": 24 * day} for day in range(DAYS + 1))
    return [
        named("nights", rows.nights()).mark_rect(color=SHADE, opacity=0.7).encode(x=x, x2="x2:Q", y=y, y2="y2:Q"),
        named("band", rows.band()).mark_rect(color=HAIRLINE).encode(x=x, x2="x2:Q", y=y, y2="y2:Q"),
        named("midnights", midnights).mark_rule(color=HAIRLINE).encode(x=x),
        named("deadlines", rows.deadlines())
        .mark_rule(strokeWidth=2)
        .encode(x=x, x2="x2:Q", y=y, stroke=stroke, strokeDash=dash),
        named("lines", rows.lines())
        .mark_line(strokeWidth=2, strokeJoin="round")
        .encode(x=x, y=y, stroke=stroke, strokeDash=dash, detail="run:N", order="i:Q"),
        named("worst", rows.worst())
        .mark_point(filled=True, size=70, color=INK, stroke=PAPER, strokeWidth=1, opacity=1)
        .encode(x=x, y=y),
        *(one.encode(x=x, y=y, text="text:N") for one in _text(alt, f"worst{number}")),
        named("band_names", rows.band_names())
        .mark_text(fontSize=SMALL, color=INK, align="right", baseline="middle", dx=-6)
        .encode(x=x, y=y, text="text:N"),
        named("remarks", rows.remarks())
        .mark_text(fontSize=SMALL - 1, color=QUIET_INK, baseline="middle", align=alt.expr("datum.side"))
        .encode(x=x, y=y, text="text:N"),
    ]


def _text(alt: Any, name: str) -> Iterator[Any]:
    """Yield the text of the worst twice, first as a rim of paper, so that it reads on lines too."""
    for look in ({"stroke": PAPER, "strokeWidth": 4, "color": PAPER}, {"color": INK}):
        yield alt.Chart(alt.NamedData(name=name)).mark_text(
            fontSize=SMALL, fontWeight="bold", baseline="bottom", align="left", dx=5, dy=-6, **look
        )


def _below(floor: float) -> str:
    """Label no tick in the band for never."""
    return f"datum.value <= {floor} ? datum.label : ''"
