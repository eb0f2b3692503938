"""Months of a record on one sheet: days down, hours across, signs of life as ink, alarms marked."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final
from zoneinfo import ZoneInfo

from stillwell.charts.days import Sheet, change_times, ink, place, sheet_of, strips
from stillwell.charts.desk import altair, specification
from stillwell.charts.palette import HAIRLINE, MARKS, PAPER, QUIET_INK, SHADE, SHADES, SMALL
from stillwell.record.columns import Gap, Record
from stillwell.record.gaps import NO_REPORT
from stillwell.record.presence import life_signals
from stillwell.wording.durations import rounded

WIDTH: Final = 864
"""Three pixels for each five minutes."""
LEVELS: Final = (1, 2, 5)
_LEVEL_NAMES: Final = ("1", "2 to 4", "5 or more")
_ROW_HEIGHTS: Final = ((31, 18.0), (75, 11.0), (150, 6.0), (400, 4.0))
_TALLEST: Final = 1600.0
_LEFT_OUT: Final = "left out"
_GAP_SHADES: Final = {NO_REPORT: SHADE, _LEFT_OUT: HAIRLINE}
_OTHERS: Final = "other alarms"
_EPOCH_DAY: Final = date(1970, 1, 1).toordinal()


@dataclass(frozen=True, slots=True)
class Mark:
    """Something that happened at one instant, by the name it has in the legend."""

    at_ms: int
    name: str


def record_days(
    record: Record, marks: Sequence[Mark], zone: ZoneInfo, title: str, subtitle: str = ""
) -> dict[str, Any]:
    """Return the Vega-Lite specification of the sheet. Raises Refusal where charts cannot be drawn.

    Ink is what changes by a living hand or foot (``record.presence.LIFE_WORDS``), in cells of five minutes. Gaps
    are shaded, and named where there is room. Colours and shapes go to the names of marks in the order given; those
    beyond the palette's are drawn as one.
    """
    alt = altair()
    sheet = sheet_of(zone, record.span)
    row_height = next((height for days, height in _ROW_HEIGHTS if sheet.days <= days), _TALLEST / sheet.days)
    data = {
        "gaps": _gap_rows(record, sheet),
        "ink": _ink_rows(record, sheet, inset=0.08 if row_height >= 6 else 0.0),
        "gap_names": _gap_names(record, sheet, row_height),
        "marks": _mark_rows(marks, sheet),
    }
    labels = day_labels(sheet, row_height)
    y = alt.Y(
        "y:Q",
        scale=alt.Scale(domain=[0, sheet.days], reverse=True, nice=False, zero=True),
        axis=alt.Axis(
            title=None,
            values=[row + 0.5 for row in labels],
            labelExpr=f"{ {f'{row + 0.5:g}': text for row, text in labels.items()} }[datum.value]",
            grid=False,
        ),
    )
    x = alt.X(
        "x:Q",
        scale=alt.Scale(domain=[0, 24], nice=False),
        axis=alt.Axis(
            title=None,
            values=list(range(0, 25, 3)),
            orient="top",
            labelExpr="(datum.value < 10 ? '0' : '') + datum.value + ':00'",
            grid=True,
        ),
    )
    layers = [
        alt.Chart(alt.NamedData(name="gaps"))
        .mark_rect(color=SHADE)
        .encode(x=x, x2="x2:Q", y=y, y2="y2:Q", fill=_gap_fill(alt, data["gaps"])),
        alt.Chart(alt.NamedData(name="ink")).mark_rect().encode(x=x, x2="x2:Q", y=y, y2="y2:Q", color=_ink_colour(alt)),
        alt.Chart(alt.NamedData(name="gap_names"))
        .mark_text(fontSize=SMALL, color=QUIET_INK, fontStyle="italic")
        .encode(x=x, y=y, text="text:N"),
        alt.Chart(alt.NamedData(name="marks"))
        .mark_point(filled=True, size=90 if row_height > 6 else 70, stroke=PAPER, strokeWidth=1, opacity=1)
        .encode(x=x, y=y, **_mark_look(alt, data["marks"])),
    ]
    drawn = [layer for layer, rows in zip(layers, data.values(), strict=True) if rows] or [layers[1]]
    chart = (
        alt.layer(*drawn)
        .resolve_scale(color="independent", fill="independent", shape="independent")
        .properties(
            width=WIDTH,
            height=round(max(row_height * sheet.days, 24)),
            title=alt.Title(title, subtitle=subtitle) if subtitle else alt.Title(title),
        )
    )
    return specification(chart, data)


def _ink_colour(alt: Any) -> Any:
    scale = alt.Scale(domain=list(_LEVEL_NAMES), range=list(SHADES))
    legend = alt.Legend(title="signs of life in 5 minutes", orient="top", symbolType="square", symbolStrokeWidth=0)
    return alt.Color("level:N", scale=scale, legend=legend)


def _gap_fill(alt: Any, rows: list[dict[str, Any]]) -> Any:
    there = {row["reason"] for row in rows}
    domain = [name for name in _GAP_SHADES if name in there]
    legend = alt.Legend(
        title="gaps", orient="top", symbolType="square", symbolStrokeWidth=1, symbolStrokeColor=HAIRLINE
    )
    return alt.Fill(
        "reason:N", scale=alt.Scale(domain=domain, range=[_GAP_SHADES[name] for name in domain]), legend=legend
    )


def _mark_look(alt: Any, rows: list[dict[str, Any]]) -> dict[str, Any]:
    names = list(dict.fromkeys(row["name"] for row in rows))
    colours, shapes = [look[0] for look in MARKS], [look[1] for look in MARKS]
    legend = alt.Legend(title="raised", orient="top", symbolSize=90, columns=4)
    return {
        "color": alt.Color("name:N", scale=alt.Scale(domain=names, range=colours[: len(names)]), legend=legend),
        "shape": alt.Shape("name:N", scale=alt.Scale(domain=names, range=shapes[: len(names)]), legend=legend),
    }


def _ink_rows(record: Record, sheet: Sheet, inset: float) -> list[dict[str, Any]]:
    times = change_times(record.signals, life_signals(record, None))
    return [
        {
            "x": round(strip.left, 4),
            "x2": round(strip.right, 4),
            "y": strip.row + inset,
            "y2": strip.row + 1 - inset,
            "level": _LEVEL_NAMES[strip.weight],
        }
        for strip in ink(sheet, times, LEVELS)
    ]


def _gap_rows(record: Record, sheet: Sheet) -> list[dict[str, Any]]:
    return [
        {"x": strip.left, "x2": strip.right, "y": strip.row, "y2": strip.row + 1, "reason": _gap_name(gap)}
        for gap in record.gaps
        for strip in strips(sheet, gap.start_ms, gap.end_ms)
    ]


def _gap_name(gap: Gap) -> str:
    return NO_REPORT if gap.reason == NO_REPORT else _LEFT_OUT


def _gap_names(record: Record, sheet: Sheet, row_height: float) -> list[dict[str, Any]]:
    """Name the gaps whose whole days give a line of text room."""
    found = []
    for gap in record.gaps:
        (first, start), (last, _) = place(sheet, gap.start_ms), place(sheet, gap.end_ms)
        first += start > 0
        if (last - first) * row_height >= SMALL + 3:
            text = f"{_gap_name(gap)}, {rounded(gap.end_ms - gap.start_ms)}"
            found.append({"x": 12, "y": (first + last) / 2, "text": text})
    return found


def _mark_rows(marks: Sequence[Mark], sheet: Sheet) -> list[dict[str, Any]]:
    names = list(dict.fromkeys(mark.name for mark in marks))
    own = names if len(names) <= len(MARKS) else names[: len(MARKS) - 1]
    rows = []
    for mark in marks:
        row, hour = place(sheet, mark.at_ms)
        rows.append({"x": round(hour, 4), "y": row + 0.5, "name": mark.name if mark.name in own else _OTHERS})
    return rows


def day_labels(sheet: Sheet, row_height: float) -> dict[int, str]:
    """Return which rows are labelled, and how: every day where there is room, else Mondays, else months.

    The year stands on the first label and on the first of each further year.
    """
    dates = [date.fromordinal(sheet.first_day + row + _EPOCH_DAY) for row in range(sheet.days)]
    if row_height >= SMALL + 3:
        chosen = list(range(sheet.days))
    else:
        chosen = [row for row, day in enumerate(dates) if day.weekday() == 0]
        if row_height * 7 < SMALL + 3:
            chosen = [row for row, day in enumerate(dates) if day.day == 1]
    labels, year = {}, 0
    for row in chosen or [0]:
        day = dates[row]
        labels[row] = f"{day:%a} {day.day} {day:%b}" + (f" {day.year}" if day.year != year else "")
        year = day.year
    return labels
