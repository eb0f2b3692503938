"""What the page of the record may be asked of, whatever the days come from."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, Protocol

import numpy as np

from stillwell.civiltime import Span
from stillwell.plan.model import Plan
from stillwell.record.columns import Column, Pulses, Record, Steps

HappenedKind = Literal["alarm", "drill", "part", "watch"]


@dataclass(frozen=True, slots=True)
class Happened:
    """Something at an instant: an alarm or drill of that name raised, a part lost, a word about the watch."""

    at_ms: int
    kind: HappenedKind
    name: str
    said: str


@dataclass(frozen=True)
class Book:
    """A span of a record: its signals, what happened, and when some part of it was lost.

    The record begins earlier than what is shown, so that what was before is known.
    """

    record: Record
    happened: Sequence[Happened]
    outages: Sequence[Span]


class Source(Protocol):
    """Where days come from. All of it blocks; StoreTrouble and Refusal may be raised."""

    @property
    def name(self) -> str:
        """What it is called on the page."""

    def whole(self) -> Span | None:
        """Return from when to when there is anything; None where there is nothing."""

    def book(self, span: Span, plan: Plan) -> Book:
        """Return a span of it, as the plan reads it."""


def cut(signals: Mapping[str, Column], span: Span) -> dict[str, Column]:
    """Return columns cut to a span; of a level or number the report in force at its beginning stays, as its first."""
    found: dict[str, Column] = {}
    for name, column in signals.items():
        first, last = np.searchsorted(column.times, span)
        if isinstance(column, Pulses):
            found[name] = Pulses(column.times[first:last])
        else:
            first = max(first - 1, 0)
            found[name] = Steps(column.times[first:last], column.values[first:last])
    return {name: column for name, column in found.items() if len(column.times)}
