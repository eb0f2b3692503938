"""The charts of learned limits: the limits around the clock, and what else could be chosen."""

from collections.abc import Callable
from typing import Any, Final

from stillwell.charts.limits import Panel, limits_chart
from stillwell.charts.trade_off import HALF, MOST, Point, Way, trade_off
from stillwell.charts.trade_off import Panel as TradeOffPanel
from stillwell.limits.proposal import Choice, Proposal
from stillwell.problem import refuse
from stillwell.replay.distribution import Spread
from stillwell.wording.counting import counted
from stillwell.wording.limits import choice_mark, limits_at, lines, way_name

_SLOT_MINUTES: Final = 15
_HOUR_MS: Final = 3_600_000
_HOUR_S: Final = 3600


def limits_chart_of(found: Proposal) -> dict[str, Any]:
    """Return the limits of both alarms: a strip for each place and kind of day, a limit every quarter of an hour."""
    question, call = found.question.learned.table, found.call.learned.table
    minutes = range(0, 24 * 60, _SLOT_MINUTES)
    panels = [
        Panel(
            line.name,
            tuple(limit / _HOUR_MS for limit in limits_at(question, line.part, minutes, line.day)),
            tuple(limit / _HOUR_MS for limit in limits_at(call, line.part, minutes, line.day)),
        )
        for line in lines(found.plan, question, call)
    ]
    return limits_chart(panels, "How long may it be quiet?", found.plan.home.name)


def trade_off_of(found: Proposal) -> dict[str, Any]:
    """Return all choices, by the median and by the 95 % notice time. Raises Refusal where none could be tried."""
    if not found.choices:
        raise refuse(
            "the record has no days left to try limits on: there is nothing to choose between",
            "Record more days, or leave --trade-off out.",
            name="--trade-off",
        )
    tried = f"{found.plan.home.name}, tried on {counted(found.choices[0].judged.days, 'day')}"
    said = (
        f"{tried} that nothing was learned from. Further down is sooner, further left is more seldom for nothing.",
        "Learned limits by their budget; ringed is what was asked for, its bar where the true rate may lie, 95 % sure.",
    )
    panels = (
        TradeOffPanel(HALF, _ways(found, lambda spread: spread.median)),
        TradeOffPanel(MOST, _ways(found, lambda spread: spread.p95)),
    )
    return trade_off(panels, "How soon, and how often for nothing?", said)


def _ways(found: Proposal, soon: Callable[[Spread], float | None]) -> tuple[Way, ...]:
    """Gather the choices of one name, in their order."""
    points: dict[str, list[Point]] = {}
    for choice in found.choices:
        points.setdefault(way_name(choice), []).append(_point(found, choice, soon(choice.judged.whole)))
    return tuple(Way(name, tuple(each)) for name, each in points.items())


def _point(found: Proposal, choice: Choice, seconds: float | None) -> Point:
    false = choice.judged.false
    asked = choice.kind == "learned" and choice.size in (found.asked.question_days, found.asked.call_days)
    return Point(
        false.per_30_days,
        None if seconds is None else seconds / _HOUR_S,
        choice_mark(choice),
        (false.low, false.high) if asked else None,
    )
