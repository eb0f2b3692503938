"""What really happened in an invented record: for judging what is read out of it."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from stillwell.record.columns import Record
from stillwell.simulate.habits import Phase
from stillwell.simulate.life import Life
from stillwell.simulate.radio import Breakdowns
from stillwell.simulate.spans import Spans, clipped, spans_of


@dataclass(frozen=True)
class Truth:
    """Where the resident was and what was broken. Spans are half-open, in time order, cut to the record's span.

    ``home`` and ``out`` share the span between them; ``holiday`` is part of ``out``. ``in_room`` and ``asleep`` are
    the resident's, by room; ``visitor`` is when somebody else was in the home. ``dead_since_ms`` names parts that
    fell silent for good, ``hub_down`` when a radio hub was.
    """

    home: Spans
    out: Spans
    holiday: Spans
    visitor: Spans
    in_room: Mapping[str, Spans]
    asleep: Mapping[str, Spans]
    dead_since_ms: Mapping[str, int]
    hub_down: Mapping[str, Spans]
    lost: int
    doubled: int
    late: int


@dataclass(frozen=True, slots=True)
class Simulated:
    """An invented record and the truth behind it."""

    record: Record
    truth: Truth


def truth_of(life: Life, breakdowns: Breakdowns, *, lost: int, doubled: int, late: int) -> Truth:
    """Read the truth off a life and the breakdowns drawn for it."""
    start, end = life.agenda.span
    away = life.resident.absences
    out = clipped(spans_of((each.start_ms, each.end_ms) for each in away), start, end)
    holiday = spans_of((each.start_ms, each.end_ms) for each in away if each.phase is Phase.HOLIDAY)
    visits = spans_of((walk.stays[0].start_ms, walk.stays[-1].end_ms) for walk in life.visitors if walk.stays)
    stays = life.resident.stays
    return Truth(
        home=_between(out, start, end),
        out=out,
        holiday=clipped(holiday, start, end),
        visitor=clipped(visits, start, end),
        in_room={
            room: clipped(spans_of((s.start_ms, s.end_ms) for s in stays if s.room == room), start, end)
            for room in life.house.uses
        },
        asleep={
            room: clipped(spans_of((s.start_ms, s.end_ms) for s in stays if s.asleep and s.room == room), start, end)
            for room in life.house.uses
        },
        dead_since_ms=breakdowns.dead_since_ms,
        hub_down=breakdowns.hub_down,
        lost=lost,
        doubled=doubled,
        late=late,
    )


def _between(spans: Spans, start_ms: int, end_ms: int) -> Spans:
    """Give what the spans leave of a window."""
    gaps: Spans = np.r_[start_ms, spans.ravel(), end_ms].reshape(-1, 2)
    left: Spans = gaps[gaps[:, 0] < gaps[:, 1]]
    return left
