"""Stretches of time and durations in the words of a plan."""

from collections.abc import Sequence
from datetime import datetime
from typing import Final
from zoneinfo import ZoneInfo

from stillwell.civiltime import Span, local_datetime
from stillwell.rules.parse import DAYS
from stillwell.rules.words import duration_text

MINUTE_MS: Final = 60_000
_DAY_MS: Final = 86_400_000
_MOST_SAID: Final = 6


def at_most(duration_ms: float) -> str:
    """Write a duration as rules do, never less than it is, to the minute where it is longer than ten."""
    grain = MINUTE_MS if duration_ms > 10 * MINUTE_MS else 1000
    return duration_text(-int(-duration_ms // grain) * grain)


def hours(zone: ZoneInfo, spans: Sequence[Span], whole: Span) -> str:
    """Say when, by the local clock: "every day from 22:30 to 23:00", "on sat, sun from 20:00 to 08:00".

    Edges are told to the minute, outwards. Many different stretches are summed up as a share of the ``whole`` time.
    """
    if sum(end - start for start, end in spans) >= whole[1] - whole[0]:
        return "at any hour"
    by_times: dict[str, list[int]] = {}
    for start, end in spans:
        first, last = _local(zone, start), _local(zone, -(-end // MINUTE_MS) * MINUTE_MS)
        if end - start < _DAY_MS:
            days = by_times.setdefault(f"from {first:%H:%M} to {last:%H:%M}", [])
            days += [] if first.weekday() in days else [first.weekday()]
        else:
            by_times[f"from {_day(first)} {first:%H:%M} to {_day(last)} {last:%H:%M}"] = []
    if len(by_times) > _MOST_SAID:
        start, end = max(spans, key=lambda span: span[1] - span[0])
        first, last = _local(zone, start), _local(zone, end)
        share = sum(end - start for start, end in spans) / (whole[1] - whole[0])
        return f"{share:.1%} of the time, for instance on {first:%Y-%m-%d} from {first:%H:%M} to {last:%H:%M}"
    by_days: dict[str, list[str]] = {}
    for times, days in by_times.items():
        by_days.setdefault(_days(days), []).append(times)
    return ", ".join(f"{days}{' and '.join(times)}" for days, times in by_days.items())


def _local(zone: ZoneInfo, at_ms: int) -> datetime:
    return local_datetime(zone, at_ms)


def _day(local: datetime) -> str:
    return DAYS[local.weekday()]


def _days(days: Sequence[int]) -> str:
    if not days:
        return ""
    if len(days) == len(DAYS):
        return "every day "
    first, last = min(days), max(days)
    if len(days) > 2 and last - first == len(days) - 1:
        return f"on {DAYS[first]}-{DAYS[last]} "
    return f"on {', '.join(DAYS[day] for day in sorted(days))} "
