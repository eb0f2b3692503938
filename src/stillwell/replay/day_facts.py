"""What each local day of a record held: signs of life, the longest quiet, how often somebody was out."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

import numpy as np

from stillwell.civiltime import Span, local_datetime, local_instant
from stillwell.record.columns import Times
from stillwell.record.outings import longest_quiet

DAY_BEGINS_MIN = 4 * 60
"""The first sign after this minute of the day counts as rising: before it, people get up and lie down again."""


@dataclass(frozen=True, slots=True)
class DayFacts:
    """One local day. ``first_ms`` is the first sign after 04:00, ``last_ms`` the last of the day; None: there is none.

    ``quiet`` is the longest stretch at home without a sign that ends in the day, whenever it began; None where there
    is none in what was recorded. ``out`` are the outings that begin in the day.
    """

    day: date
    span: Span
    signs: int
    first_ms: int | None
    last_ms: int | None
    quiet: Span | None
    out: tuple[Span, ...]


def day_facts(zone: ZoneInfo, days: Sequence[date], life: Times, outings: Sequence[Span], seen: Span) -> list[DayFacts]:
    """Return the facts of some days; ``life`` are sorted signs, also of before, ``seen`` what is recorded at all."""
    found = []
    begun = {start for start, _ in outings}
    for day in days:
        start = local_instant(zone, day, 0, "start")
        end = local_instant(zone, date.fromordinal(day.toordinal() + 1), 0, "start")
        inside = _within(life, (start, end))
        rising = _within(life, (local_instant(zone, day, DAY_BEGINS_MIN, "start"), end))
        out = tuple(one for one in outings if start <= one[0] < end)
        found.append(
            DayFacts(
                day,
                (start, end),
                len(inside),
                int(rising[0]) if len(rising) else None,
                int(inside[-1]) if len(inside) else None,
                _quiet(life, (start, end), seen, begun),
                out,
            )
        )
    return found


def day_of(zone: ZoneInfo, at_ms: int) -> date:
    """Return the local date of an instant."""
    return local_datetime(zone, at_ms).date()


def _within(life: Times, span: Span) -> Times:
    first, last = np.searchsorted(life, span)
    inside: Times = life[first:last]
    return inside


def _quiet(life: Times, span: Span, seen: Span, out: set[int]) -> Span | None:
    """Return the longest quiet at home that ends in the day, or goes on at its end."""
    end = min(span[1], seen[1])
    first = int(np.searchsorted(life, span[0]))
    since = int(life[first - 1]) if first else seen[0]
    found = longest_quiet(life, since, end, out) if since < end else (0, 0)
    return found if found[0] < found[1] else None
