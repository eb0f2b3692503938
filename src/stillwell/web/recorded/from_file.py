"""A recorded home in a file: read once, and the plan replayed over it."""

from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Final

from stillwell.civiltime import Span
from stillwell.files import read_bytes, read_text
from stillwell.plan.model import Plan
from stillwell.problem import refuse
from stillwell.record.columns import Record
from stillwell.record.parquet import read_parquet
from stillwell.record.text import read_text as read_record_text
from stillwell.replay.run import replay
from stillwell.web.recorded.source import Book, Happened, cut
from stillwell.wording.outages import Outage, outage_sentence, outages

LARGEST: Final = 2 * 1024**3


def read_record(path: Path) -> Record:
    """Read a record, as Parquet or as text by the ending of the name. Raises Refusal where it cannot be read."""
    if path.suffix == ".parquet":
        return read_parquet(read_bytes(path, LARGEST), path.name).record
    if path.suffix == ".csv":
        return read_record_text(read_text(path).splitlines(), path.name)
    remedy = "Import it first: `stillwell import` makes a .parquet or .csv record of a log from elsewhere."
    raise refuse("this is no record", remedy, file=path.name)


@dataclass(frozen=True)
class _Replayed:
    """A plan over the record: what happened, and when parts were lost."""

    plan: Plan
    happened: tuple[Happened, ...]
    outages: tuple[Outage, ...]


class FileSource:
    """The record in a file, with the alarms that the plan would have raised."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._replayed: _Replayed | None = None

    @property
    def name(self) -> str:
        """The file's name, and where the alarms are from."""
        return f"the record {self._path.name}; its alarms are those that the plan would have raised"

    def whole(self) -> Span | None:
        """Return the record's span."""
        return self._record.span

    def book(self, span: Span, plan: Plan) -> Book:
        """Return a span of the record."""
        replayed = self._replayed
        if replayed is None or replayed.plan is not plan:
            replayed = self._replayed = _replayed(plan, self._record)
        signals = cut(self._record.signals, span)
        gaps = tuple(gap for gap in self._record.gaps if gap.end_ms > span[0] and gap.start_ms < span[1])
        record = replace(self._record, zone=plan.home.timezone, span=span, signals=signals, gaps=gaps)
        happened = [one for one in replayed.happened if span[0] <= one.at_ms < span[1]]
        lost = [
            (one.start_ms, one.end_ms) for one in replayed.outages if one.end_ms > span[0] and one.start_ms < span[1]
        ]
        return Book(record, happened, lost)

    @cached_property
    def _record(self) -> Record:
        return read_record(self._path)


def _replayed(plan: Plan, record: Record) -> _Replayed:
    """Run the plan over the record; parts of which the record knows nothing were not there, and not lost."""
    run = replay(plan, record)
    zone = run.program.home.zone
    known = {name.partition(".")[0] for name in record.signals}
    lost = [one for one in outages(plan, run.outcome, record.span[1]) if known & {one.part, *one.with_it}]
    raised = [
        Happened(moment.at_ms, "alarm", moment.rule.name, moment.rule.name)
        for moment in run.moments
        if moment.rule.is_alarm and not moment.rule.of_part and not moment.in_gap
    ]
    losses = [Happened(one.start_ms, "part", one.part, outage_sentence(one, zone)) for one in lost]
    return _Replayed(plan, tuple(sorted((*raised, *losses), key=lambda one: one.at_ms)), tuple(lost))
