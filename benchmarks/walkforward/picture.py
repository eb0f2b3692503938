"""False alarms against notice time, a line for each method."""

from stillwell.charts.palette import look
from stillwell.charts.render import render
from walkforward.compare import Compared

MOST_PER_30_DAYS = 6.0
LONGEST_H = 12.0


def trade_off(home: Compared) -> bytes:
    """Return an SVG: each setting of each method on one home."""
    rows = [
        {
            "method": row.name,
            "false": round(found.false.per_30_days, 3),
            "hours": round(delay / 3600, 3),
            "which": which,
        }
        for row in home.rows
        for _, found in row.sweep
        for which, delay in (("median", found.whole.median), ("95 %", found.whole.p95))
        if delay is not None and delay <= LONGEST_H * 3600 and found.false.per_30_days <= MOST_PER_30_DAYS
    ]
    points = {
        "mark": {"type": "line", "point": True},
        "encoding": {
            "x": {"field": "false", "type": "quantitative", "title": "false alarms in 30 days"},
            "y": {"field": "hours", "type": "quantitative", "title": "notice time, hours", "scale": {"zero": False}},
            "color": {"field": "method", "type": "nominal", "title": None, "sort": None},
            "order": {"field": "false", "type": "quantitative"},
            "facet": {"field": "which", "type": "nominal", "title": None, "sort": ["median", "95 %"]},
        },
    }
    spec = {"$schema": "https://vega.github.io/schema/vega-lite/v6.json", "config": look(), "data": {"values": rows}}
    return render(spec | points, "benchmarks-limits.svg")
