"""The files of a proof: its chart, and each worst case as a record."""

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

from stillwell.charts.notice_curve import notice_curve
from stillwell.charts.notice_rows import Panel
from stillwell.charts.render import render
from stillwell.cli.proved import Proved, Shown
from stillwell.files import write_whole
from stillwell.problem import refuse
from stillwell.proof.results import FaultResult
from stillwell.record.columns import Record
from stillwell.record.text import write_text
from stillwell.wording.counting import counted
from stillwell.wording.proof import fault_words, notice_cell, onset_cell

_NO_LETTER: Final = re.compile(r"[^a-z0-9]+")


def draw(proved: Proved, chart: str | None) -> list[str]:
    """Draw the chart, if one is wanted; return the names of the files."""
    if chart is None:
        return []
    write_whole(Path(chart), render(chart_of(proved), chart))
    return [chart]


def chart_of(proved: Proved) -> dict[str, Any]:
    """Return the chart of every hazard that was proved."""
    panels = [_panel(proved, shown) for shown in proved.hazards]
    title = "How long until somebody is told, by when it begins"
    return notice_curve(panels, proved.zone, title, f"{proved.plan.home.name}, {proved.proof.year}; nights are shaded")


def _panel(proved: Proved, shown: Shown) -> Panel:
    result = shown.result
    never = [one for one in result.faults if one.summary.share_never > result.normal.share_never]
    second = _second(result.faults, result.normal.worst_s)
    worst = notice_cell(result.normal.worst_s)
    said = f"at worst {worst}, {onset_cell(result, shown.worst, proved.zone)}"
    broken = "" if second is None else notice_cell(second.summary.worst_s)
    if second is not None:
        said += f"; with {fault_words(second.fault, proved.plan)} {broken}"
    in_band = f"with any one of {counted(len(never), 'thing')} broken" if never and not shown.never else ""
    return Panel(
        result.hazard.name,
        result.told,
        shown.limit,
        _marked(shown),
        worst,
        said,
        None if second is None else second.curve,
        broken,
        in_band,
    )


def _marked(shown: Shown) -> int:
    """Return an onset that is worst, in the middle of the first stretch of such where there is one."""
    begin = int(shown.result.told.points[0])
    spans = [span for span in shown.worst if span[0] > begin]
    start, end = spans[0] if spans and shown.worst else (shown.onset_ms, shown.onset_ms)
    return min((start + end) // 2, shown.result.told.end - 1)


def _second(faults: Sequence[FaultResult], normal_s: float | None) -> FaultResult | None:
    """Return the fault under which it goes worst and somebody is told all the same; None where none makes it worse."""
    told = [one for one in faults if one.summary.worst_s is not None]
    worst = max(told, key=lambda one: one.summary.worst_s or 0.0, default=None)
    if worst is None or normal_s is None or (worst.summary.worst_s or 0.0) <= normal_s:
        return None
    return worst


def write_witnesses(proved: Proved, folder: str) -> list[str]:
    """Write the worst case of each hazard, and of each claim that fails, as a record; return the names of the files."""
    written = []
    for number, shown in enumerate(proved.hazards, 1):
        if shown.witness is not None:
            name = f"{number:02}-{_NO_LETTER.sub('-', shown.result.hazard.name.lower()).strip('-')}.csv"
            written.append(_write(Path(folder) / name, shown.witness.record))
    for number, claim in enumerate(proved.claims, 1):
        if claim.witness is not None:
            written.append(_write(Path(folder) / f"never-{number:02}.csv", claim.witness.record(proved.plan)))
    return written


def _write(path: Path, record: Record) -> str:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise refuse("this folder cannot be made", "Name another.", file=str(path.parent)) from error
    write_whole(path, "\n".join(write_text(record)) + "\n")
    return str(path)
