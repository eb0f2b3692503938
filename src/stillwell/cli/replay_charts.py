"""The charts of a replay."""

from typing import Any

from stillwell.charts.deadlines import collapse_deadlines
from stillwell.charts.notice_by_hour import notice_by_hour
from stillwell.charts.record_days import Mark, record_days
from stillwell.cli.replayed import Replayed
from stillwell.wording.durations import rounded
from stillwell.wording.instants import day
from stillwell.wording.notice import pronoun

PART_LOST = "a part stopped reporting"


def days_chart(result: Replayed) -> dict[str, Any]:
    """Return the sheet of days with the alarms raised in watched time; for parts lost with their hub, the hub's."""
    raised = [moment for moment in result.plan_alarms if not moment.in_gap]
    marks = [
        Mark(moment.at_ms, rule.name) for rule in result.run.program.alarms for moment in raised if moment.rule == rule
    ]
    told = {rule.of_part for rule in result.run.program.alarms}
    marks += [Mark(outage.start_ms, PART_LOST) for outage in result.outages if outage.part in told]
    return record_days(result.record, marks, result.zone, result.plan.home.name, _span(result))


def notice_chart_of(result: Replayed) -> dict[str, Any]:
    """Return the notice time by hour of onset."""
    assert result.silence is not None  # the command asks for both together
    title = f"If {pronoun(result.plan)} fell silent: how long until somebody is told"
    deadlines = collapse_deadlines(result.plan, result.record.span)
    return notice_by_hour(result.silence.by_hour, deadlines, title, f"{result.plan.home.name}, {_span(result)}")


def _span(result: Replayed) -> str:
    start, end = result.record.span
    watched = rounded(result.run.watched_ms)
    return f"{day(result.zone, start)} to {day(result.zone, end - 1)}, {watched} of it watched"
