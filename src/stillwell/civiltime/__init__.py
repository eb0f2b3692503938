"""Local time for a home: zones, skipped and repeated hours, the sun.

Everywhere else in the project an instant is an integer count of milliseconds UTC and a span is the half-open
pair (from, until) of two instants. Nothing here asks the clock, and nothing needs numpy.
"""

from stillwell.civiltime.pieces import Span, offset_ms, transitions
from stillwell.civiltime.sun import Position, SunEvent, last_sun_event, sun_events
from stillwell.civiltime.walltime import (
    Edge,
    LocalReader,
    instants_of_local,
    local_datetime,
    local_instant,
    local_text,
)
from stillwell.civiltime.weeks import (
    day_edges,
    dst_weeks,
    hour_edges,
    ordinary_week,
    week_of,
    weekday_spans,
)
from stillwell.civiltime.windows import ClockTime, HomeTime, SunTime, TimeOfDay, occurrences, window
from stillwell.civiltime.zones import find_zone, nearest_zone_names

__all__ = [
    "ClockTime",
    "Edge",
    "HomeTime",
    "LocalReader",
    "Position",
    "Span",
    "SunEvent",
    "SunTime",
    "TimeOfDay",
    "day_edges",
    "dst_weeks",
    "find_zone",
    "hour_edges",
    "instants_of_local",
    "last_sun_event",
    "local_datetime",
    "local_instant",
    "local_text",
    "nearest_zone_names",
    "occurrences",
    "offset_ms",
    "ordinary_week",
    "sun_events",
    "transitions",
    "week_of",
    "weekday_spans",
    "window",
]
