"""Learned limits as JSON: the names of the top level are a promise to programs."""

from collections.abc import Iterator
from typing import Any, Final

from stillwell.cli.answer import with_instants
from stillwell.cli.limits_write import Changed
from stillwell.limits.proposal import Choice, Limit, Proposal
from stillwell.limits.realised import Judged
from stillwell.limits.support import expected_rate
from stillwell.limits.written import plan_table
from stillwell.plan.limits import LimitTable
from stillwell.plan.model import Plan
from stillwell.plan.texts import days_text
from stillwell.replay.rates import Rate
from stillwell.rules.words import time_text
from stillwell.wording.cleaning import left_out_sentences, trust_sentences
from stillwell.wording.compared import difference_sentence
from stillwell.wording.limits import support_sentence, warning_sentences, why_sentence

_NOTICE: Final = ("median", "p95", "max", "day_median", "day_p95")
_DAY_KINDS: Final = {"all": "any day", "weekdays": "workday", "weekends": "weekend"}


def limits_answer(found: Proposal, changed: Changed | None) -> dict[str, Any]:
    """Return all that was learned; durations are seconds, rates false alarms in 30 days."""
    return {
        **_limit(found, found.question),
        "call": _limit(found, found.call),
        "left_out": dict(found.cleaned.counts),
        "days_of_record": len(found.cleaned.days),
        "choices": [_choice(each) for each in found.choices],
        "warnings": warning_sentences(found),
        "sentences": [*left_out_sentences(found.cleaned), *trust_sentences(found.cleaned)],
        "moved": with_instants(found.moved),
        "written": None if changed is None else _changed(changed, found.plan),
    }


def _limit(found: Proposal, limit: Limit) -> dict[str, Any]:
    judged = limit.judged
    return {
        "budget_per_30_days": 30 / limit.budget_days,
        "promised": _rate(expected_rate(limit.budget_days, 0 if judged is None else judged.days)),
        "realised": {"per_30_days": None, "low": 0.0, "high": None} if judged is None else _rate(judged.false),
        "notice_s": dict.fromkeys(_NOTICE) if judged is None else notice_answer(judged),
        "days_used": len(found.cleaned.used),
        "days_judged": 0 if judged is None else judged.days,
        "days_needed": limit.support.more_days,
        "shown": limit.support.shown,
        "carries": support_sentence(limit.support, judged),
        "limits": list(rows_answer(plan_table(found.plan, limit.learned.table, why_sentence(limit)), found.plan)),
    }


def notice_answer(judged: Judged) -> dict[str, Any]:
    """Return how long silence for good lasts until the alarm, in seconds; day: begun from 08 to 22 h."""
    whole, by_day = judged.whole, judged.by_day
    return dict(zip(_NOTICE, (whole.median, whole.p95, whole.max, by_day.median, by_day.p95), strict=True))


def rows_answer(table: LimitTable, plan: Plan) -> Iterator[dict[str, Any]]:
    """Yield the rows of a table; what a row does not ask is null. The first that fits counts, the last fits always.

    ``last`` narrows a row to one signal of the room.
    """
    for row in table.rows:
        part = plan.parts.get((row.last or "").partition(".")[0])
        hours = row.hours
        days = days_text(row.days)
        yield {
            "room": row.room or (part.room if part else None),
            "last": row.last,
            "after_door_s": None if row.after_door is None else row.after_door / 1000,
            "from": "00:00" if hours is None else time_text(hours[0]),
            "to": "24:00" if hours is None or not hours[1].minute else time_text(hours[1]),
            "day_kind": _DAY_KINDS.get(days, days),
            "limit_s": row.limit / 1000,
        }
    yield {
        "room": None,
        "last": None,
        "after_door_s": None,
        "from": "00:00",
        "to": "24:00",
        "day_kind": "any day",
        "limit_s": table.longest / 1000,
    }


def _rate(rate: Rate) -> dict[str, Any]:
    return {"per_30_days": rate.per_30_days, "low": rate.low, "high": rate.high}


def _choice(choice: Choice) -> dict[str, Any]:
    return {
        "kind": choice.kind,
        "size": choice.size,
        "method": None if choice.method is None else choice.method.name,
        "parameter": None if choice.method is None else choice.method.parameter,
        "realised": _rate(choice.judged.false),
        "notice_s": notice_answer(choice.judged),
    }


def _changed(changed: Changed, plan: Plan) -> dict[str, Any]:
    return {
        "file": changed.file,
        "tables": list(changed.tables),
        "alarm_added": changed.alarm_added,
        "question_added": changed.question_added,
        "differences": [difference_sentence(each, plan) for each in changed.differences],
    }
