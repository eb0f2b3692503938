"""False alarms against notice time, a line for each method."""

from collections.abc import Callable

from stillwell.charts.render import render
from stillwell.charts.trade_off import HALF, MOST, Panel, Point, Way, trade_off
from stillwell.replay.distribution import Spread
from walkforward.compare import Compared

MOST_PER_30_DAYS = 6.0
LONGEST_H = 12.0


def picture(home: Compared) -> bytes:
    """Return an SVG: each setting of each method on one home."""
    panels = [
        Panel(HALF, _ways(home, lambda spread: spread.median)),
        Panel(MOST, _ways(home, lambda spread: spread.p95)),
    ]
    said = f"{home.name}, {home.judged_days} days judged; each point a setting."
    return render(trade_off(panels, "False alarms against notice time", [said]), "benchmarks-limits.svg")


def _ways(home: Compared, soon: Callable[[Spread], float | None]) -> tuple[Way, ...]:
    """Return of each method the settings that anybody might want, from eager to patient."""
    return tuple(
        Way(
            row.name,
            tuple(
                Point(found.false.per_30_days, delay / 3600)
                for _, found in row.sweep
                for delay in [soon(found.whole)]
                if delay is not None and delay <= LONGEST_H * 3600 and found.false.per_30_days <= MOST_PER_30_DAYS
            ),
        )
        for row in home.rows
    )
