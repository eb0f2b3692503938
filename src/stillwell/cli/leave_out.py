"""Days of a record that a person marks as telling nothing: a stay away, a house full of guests."""

from dataclasses import replace
from datetime import date, timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from stillwell.problem import refuse

if TYPE_CHECKING:
    from collections.abc import Iterable

    from stillwell.record.columns import Record


def without(record: "Record", stretches: "Iterable[str]") -> "Record":
    """Return the record with stretches of local days (``FROM..TO``, both included) marked as left out.

    Raises Refusal where a stretch cannot be read or lies outside of the record.
    """
    for text in stretches:
        record = _marked(record, *_span(text, ZoneInfo(record.zone)), text)
    return record


def _span(text: str, zone: ZoneInfo) -> tuple[int, int]:
    from stillwell.civiltime import local_instant

    first, dots, last = text.partition("..")
    try:
        days = date.fromisoformat(first), date.fromisoformat(last if dots else first)
    except ValueError:
        days = date.max, date.min
    if days[0] > days[1] or days[1] == date.max:
        raise refuse(f"{text!r} is no stretch of days", "Write it as 2017-03-30..2017-05-31.", name="--leave-out")
    start = local_instant(zone, days[0], 0, "start")
    return start, local_instant(zone, days[1] + timedelta(days=1), 0, "start")


def _marked(record: "Record", start: int, end: int, text: str) -> "Record":
    from stillwell.record.columns import Gap

    start, end = max(start, record.span[0]), min(end, record.span[1])
    if start >= end:
        raise refuse(f"{text} lies outside of the record", "See `stillwell inspect`.", name="--leave-out")
    rest = []
    for gap in record.gaps:
        rest += [Gap(gap.start_ms, min(gap.end_ms, start), gap.reason)] if gap.start_ms < start else []
        rest += [Gap(max(gap.start_ms, end), gap.end_ms, gap.reason)] if gap.end_ms > end else []
    gaps = sorted([*rest, Gap(start, end, "excluded")], key=lambda gap: gap.start_ms)
    return replace(record, gaps=tuple(gaps))
