"""A span of a record read as a home: its signs of life, nights, outings, what happened, and the limits."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np

from stillwell.charts.day_sheet import Marked, Seen
from stillwell.charts.days import change_times
from stillwell.charts.marks import KINDS
from stillwell.civiltime import Span
from stillwell.plan.kinds import OUTSIDE
from stillwell.plan.model import Plan
from stillwell.record.columns import Times
from stillwell.record.outings import outings
from stillwell.record.presence import life_signals
from stillwell.replay.allowed import Allowed, allowed, beyond
from stillwell.replay.hours import nights
from stillwell.web.recorded.source import Book, Happened
from stillwell.wording.instants import moment

OTHERS: Final = "other alarms"
LOST: Final = "a part stopped reporting"
WATCH: Final = "the watch was paused"


@dataclass(frozen=True)
class Reading:
    """What is read from a book. ``kinds`` number what is marked, by name, for the legend; ``limits`` by table."""

    book: Book
    life: Times
    outings: tuple[Span, ...]
    kinds: Mapping[str, int]
    limits: tuple[Allowed, ...]

    @property
    def beyond(self) -> list[tuple[str, int]]:
        """Which limits were passed, and when."""
        until = self.book.record.span[1]
        return [(table.name, since) for table in self.limits for since, _ in beyond(table, until)]

    def seen(self, span: Span, plan: Plan, zone: ZoneInfo) -> Seen:
        """Return what a sheet of this span shows."""
        inside = self.life[np.searchsorted(self.life, span[0]) : np.searchsorted(self.life, span[1])]
        begin, until = self.book.record.span
        unrecorded = [(gap.start_ms, gap.end_ms) for gap in self.book.record.gaps]
        unrecorded += [one for one in ((span[0], begin), (until, span[1])) if one[0] < one[1]]
        return Seen(
            inside,
            nights(plan, span),
            unrecorded,
            self.outings,
            self.book.outages,
            [stretch for table in self.limits for stretch in beyond(table, until)],
            [
                Marked(one.at_ms, self.kinds[kind_name(one, self.kinds)], f"{moment(zone, one.at_ms)}: {one.said}",
                       one.kind == "drill")
                for one in self.book.happened
                if span[0] <= one.at_ms < span[1]
            ],
        )  # fmt: skip


def reading(book: Book, plan: Plan) -> Reading:
    """Read a book by its plan."""
    record = book.record
    life_names = life_signals(record, None)
    doors = [name for name in life_names if _outside(name, plan)]
    inside = change_times(record.signals, [name for name in life_names if name not in doors])
    out = outings(change_times(record.signals, doors), inside)
    limits = tuple(allowed(plan, record, name) for name in plan.limits)
    return Reading(book, change_times(record.signals, life_names), tuple(out), _kinds(book.happened), limits)


def kind_name(one: Happened, kinds: Mapping[str, int]) -> str:
    """Return by what name something stands in the legend."""
    match one.kind:
        case "part":
            return LOST
        case "watch":
            return WATCH
        case _:
            return one.name if one.name in kinds else OTHERS


def _kinds(happened: Sequence[Happened]) -> dict[str, int]:
    """Number what happened: the commonest alarms first, then the rest of them together, then lost parts."""
    counts = Counter(one.name for one in happened if one.kind in {"alarm", "drill"})
    fixed = [name for name, kind in ((LOST, "part"), (WATCH, "watch")) if any(one.kind == kind for one in happened)]
    room = KINDS - len(fixed)
    own = [name for name, _ in counts.most_common()]
    own = own if len(own) <= room else [*own[: room - 1], OTHERS]
    return {name: number for number, name in enumerate([*own, *fixed])}


def _outside(signal: str, plan: Plan) -> bool:
    part = plan.parts.get(signal.partition(".")[0])
    opening = None if part is None else plan.openings.get(part.opening or "")
    return signal.endswith(".open") and opening is not None and OUTSIDE in opening.rooms
