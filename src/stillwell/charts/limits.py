"""How long it may be quiet, around the clock: a strip for each place where somebody may have been heard last."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

from stillwell.charts.desk import altair, specification
from stillwell.charts.palette import INK, PLAIN, QUIET_INK, SHADE, SHADES, SMALL

WIDTH: Final = 400
HEIGHT: Final = 112
COLUMNS: Final = 2
_QUESTION, _CALL = "the home asks", "the family is called"
_FIGURES: Final = "Figures at 03, 09, 15 and 21 h: the home asks / the family is called."
_FILL: Final = SHADES[0]
_MARKED_HOURS: Final = (3, 9, 15, 21)
_HEADROOM: Final = 1.12


@dataclass(frozen=True, slots=True)
class Panel:
    """One strip: the limits in hours over a local day, at even steps from midnight on, of both alarms."""

    name: str
    question_h: tuple[float, ...]
    call_h: tuple[float, ...]


def limits_chart(panels: Sequence[Panel], title: str, subtitle: str = "") -> dict[str, Any]:
    """Return the Vega-Lite specification. Raises Refusal where charts cannot be drawn.

    The filled shape is when the family is called, the line when the home asks; figures stand at a few hours.
    """
    alt = altair()
    top = max(max(panel.call_h) for panel in panels) * _HEADROOM
    data: dict[str, list[dict[str, Any]]] = {}
    strips = []
    for number, panel in enumerate(panels):
        call, line, marks = (f"{kind}{number}" for kind in ("call", "question", "marks"))
        data[call] = list(_steps(panel.call_h, _CALL))
        data[line] = list(_steps(panel.question_h, _QUESTION))
        data[marks] = list(_marks(panel))
        strips.append(_strip(alt, (call, line, marks), panel.name, top, last=number >= len(panels) - COLUMNS))
    rows = [alt.hconcat(*strips[at : at + COLUMNS], spacing=28) for at in range(0, len(strips), COLUMNS)]
    said = [
        f"{subtitle}{': ' if subtitle else ''}hours of silence, by hour and place of the last sign of life",
        _FIGURES,
    ]
    chart = (
        alt.vconcat(*rows, spacing=14).resolve_scale(stroke="shared").properties(title=alt.Title(title, subtitle=said))
    )
    return specification(chart, data)


def _strip(alt: Any, names: tuple[str, str, str], title: str, top: float, *, last: bool) -> Any:
    x = alt.X(
        "x:Q",
        scale=alt.Scale(domain=[0, 24], nice=False),
        axis=alt.Axis(
            title=None,
            values=list(range(0, 25, 6)),
            labels=last,
            labelExpr="(datum.value < 10 ? '0' : '') + datum.value + ':00'",
            labelFlush=True,
            grid=True,
        ),
    )
    y = alt.Y(
        "y:Q",
        scale=alt.Scale(domain=[0, top], nice=False),
        axis=alt.Axis(title=None, values=list(range(0, int(top) + 1, 4)), labelExpr="datum.value + ' h'", grid=True),
    )
    call, line, marks = names
    ground = alt.Chart(alt.NamedData(name=call)).mark_area(interpolate="step-after", color=SHADE)
    edge = alt.Chart(alt.NamedData(name=call)).mark_line(interpolate="step-after", strokeWidth=2)
    asked = alt.Chart(alt.NamedData(name=line)).mark_line(interpolate="step-after", strokeWidth=2)
    stroke = alt.Stroke(
        "alarm:N",
        scale=alt.Scale(domain=[_QUESTION, _CALL], range=[INK, _FILL]),
        legend=alt.Legend(title=None, orient="top", symbolType="stroke", symbolStrokeWidth=3, offset=8),
    )
    said = alt.Chart(alt.NamedData(name=marks)).mark_text(
        font="sans-serif", fontSize=SMALL, color=QUIET_INK, baseline="bottom", dy=-5
    )
    return alt.layer(
        ground.encode(x=x, y=y),
        edge.encode(x=x, y=y, stroke=stroke),
        asked.encode(x=x, y=y, stroke=stroke),
        said.encode(x=x, y=y, text="text:N"),
    ).properties(
        width=WIDTH,
        height=HEIGHT,
        title=alt.Title(title, fontSize=PLAIN, color=INK, anchor="start", frame="group", offset=4),
    )


def _steps(hours: Sequence[float], alarm: str) -> Iterator[dict[str, Any]]:
    for number, limit in enumerate((*hours, hours[-1])):
        yield {"x": number * 24 / len(hours), "y": limit, "alarm": alarm}


def _marks(panel: Panel) -> Iterator[dict[str, Any]]:
    """Yield both limits as text at a few hours, low in the strip where no line runs."""
    for hour in _MARKED_HOURS:
        asked, called = (each[hour * len(each) // 24] for each in (panel.question_h, panel.call_h))
        yield {"x": hour, "y": 0, "text": f"{_hours(asked)} / {_hours(called)}"}


def _hours(limit: float) -> str:
    whole, part = divmod(round(limit * 60), 60)
    return f"{whole}:{part:02d}"
