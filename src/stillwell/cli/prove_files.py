"""The files of a proof: its chart, and each worst case as a record."""

import re
from pathlib import Path
from typing import Final

from stillwell.charts.notice_panels import proof_chart
from stillwell.charts.render import render
from stillwell.files import write_whole
from stillwell.problem import refuse
from stillwell.proof.proved import Proved
from stillwell.record.columns import Record
from stillwell.record.text import write_text

_NO_LETTER: Final = re.compile(r"[^a-z0-9]+")


def draw(proved: Proved, chart: str | None) -> list[str]:
    """Draw the chart, if one is wanted; return the names of the files."""
    if chart is None:
        return []
    write_whole(Path(chart), render(proof_chart(proved), chart))
    return [chart]


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
