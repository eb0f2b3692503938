"""Rules that speak of the clock, run by both evaluators through the weeks of 2026 in which the clocks change.

Sources: the IANA time zone database through the standard library's zoneinfo, which knows whether a local time exists
and how often; RFC 5545 daily and weekly recurrences through dateutil. What becomes of a time that is skipped or comes
twice is the project's own rule: an edge in a skipped hour moves to the first instant after the gap, in a repeated hour
a start edge is the first occurrence and an end edge the last, and ``at`` happens once, the first time.
"""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from dateutil import rrule
from tests.smallest import alarm, plan_of

from stillwell.engine import columns, walk
from stillwell.engine.program import compile_plan
from stillwell.record.columns import TRUE, Pulses, Record

HOUR_MS = 3_600_000
# The local date of the change; London skips and repeats 01:00 to 02:00, New York skips 02:00 to 03:00 and repeats
# 01:00 to 02:00, Sydney skips and repeats 02:00 to 03:00.
CHANGES = [
    ("Europe/London", "2026-03-29"),
    ("Europe/London", "2026-10-25"),
    ("America/New_York", "2026-03-08"),
    ("America/New_York", "2026-11-01"),
    ("Australia/Sydney", "2026-04-05"),
    ("Australia/Sydney", "2026-10-04"),
]
WINDOWS = [
    ("22:00", "07:00"),
    ("07:00", "22:00"),
    ("00:30", "01:30"),
    ("01:15", "01:45"),
    ("01:30", "02:30"),
    ("02:15", "02:45"),
    ("02:30", "03:30"),
    ("23:30", "02:00"),
    ("02:00", "01:00"),
    ("03:00", "03:00"),  # the whole day
]
TIMES = ["00:00", "01:00", "01:30", "02:00", "02:30", "03:00", "08:00"]
DAYS = {"sun": rrule.SU, "sat": rrule.SA, "mon": rrule.MO}

EVALUATORS = pytest.mark.parametrize("evaluate", [columns.run, walk.run], ids=["columns", "step"])


def plan_in(zone, whens=(), claims=()):
    parts = {"bell": {"kind": "push button"}}
    return plan_of(zone, parts=parts, alarm=[alarm(when) for when in whens], never=[{"claim": one} for one in claims])


def ms(moment):
    return (moment - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(milliseconds=1)


def instants(zone, local):
    """Return the instants at which the clock on the wall shows this local time: none, one or two."""
    both = {local.replace(tzinfo=zone, fold=fold).astimezone(UTC) for fold in (0, 1)}
    return sorted(ms(one) for one in both if one.astimezone(zone).replace(tzinfo=None) == local)


def edge(zone, local, *, last=False):
    found = instants(zone, local)
    while not found:  # skipped: the first minute after it that exists
        local += timedelta(minutes=1)
        found = instants(zone, local)[:1]
    return found[-1] if last else found[0]


def at_clock(day, clock):
    return datetime.combine(day, datetime.strptime(clock, "%H:%M").time())  # noqa: DTZ007 - a local time


def week(zone, date):
    """Return the week about a change: Thursday noon to Thursday noon, local time, and its days with two around."""
    first = datetime.fromisoformat(f"{date} 12:00") - timedelta(days=3)
    span = edge(zone, first), edge(zone, first + timedelta(days=7))
    days = rrule.rrule(rrule.DAILY, dtstart=first.replace(hour=0) - timedelta(days=2), count=12)
    return span, [day.date() for day in days]


def clipped(spans, span):
    """Return the spans cut to the week, touching ones joined."""
    joined = []
    for start, end in sorted((max(start, span[0]), min(end, span[1])) for start, end in spans):
        if start >= end:
            continue
        if joined and start <= joined[-1][1]:
            joined[-1] = joined[-1][0], max(end, joined[-1][1])
        else:
            joined.append((start, end))
    return joined


def open_spans(zone, start, end, days):
    for day in days:
        close = day if end > start else day + timedelta(days=1)
        yield edge(zone, at_clock(day, start)), edge(zone, at_clock(close, end), last=True)


def true_spans(steps, span):
    ends = [*steps.times[1:].tolist(), span[1]]
    return [(s, e) for s, e, value in zip(steps.times.tolist(), ends, steps.values, strict=True) if value == TRUE]


@EVALUATORS
@pytest.mark.parametrize(("name", "date"), CHANGES)
def test_windows(evaluate, name, date):
    zone = ZoneInfo(name)
    span, days = week(zone, date)
    claims = {f"between {start} and {end}": (start, end) for start, end in WINDOWS}
    outcome = evaluate(compile_plan(plan_in(name, claims=claims)), Record(name, span, {}))
    for claim, (start, end) in claims.items():
        expected = clipped(open_spans(zone, start, end, days), span)
        assert true_spans(outcome.levels[claim], span) == expected, claim


@EVALUATORS
@pytest.mark.parametrize(("name", "date"), CHANGES)
def test_at_happens_once_a_day(evaluate, name, date):
    zone = ZoneInfo(name)
    span, days = week(zone, date)
    outcome = evaluate(compile_plan(plan_in(name, whens=[f"at {clock}" for clock in TIMES])), Record(name, span, {}))
    for clock in TIMES:
        expected = [edge(zone, at_clock(day, clock)) for day in days]
        fired = outcome.fired[f"at {clock}"].tolist()
        assert fired == [one for one in expected if span[0] <= one < span[1]]
        assert len(fired) == 7, clock


@EVALUATORS
@pytest.mark.parametrize(("name", "date"), CHANGES)
def test_weekdays_begin_and_end_at_local_midnight(evaluate, name, date):
    zone = ZoneInfo(name)
    span, days = week(zone, date)
    claims = [f"on {day}" for day in DAYS] + ["on sun and between 01:30 and 02:30"]
    outcome = evaluate(compile_plan(plan_in(name, claims=claims)), Record(name, span, {}))
    begin = at_clock(days[0], "00:00")
    spans = {}
    for day, weekday in DAYS.items():
        found = rrule.rrule(rrule.WEEKLY, byweekday=weekday, dtstart=begin, count=2)
        midnights = [(edge(zone, one), edge(zone, one + timedelta(days=1))) for one in found]
        spans[day] = clipped(midnights, span)
        assert true_spans(outcome.levels[f"on {day}"], span) == spans[day]
    (sunday,) = spans["sun"]
    expected = clipped(open_spans(zone, "01:30", "02:30", days), sunday)
    assert true_spans(outcome.levels[claims[-1]], span) == expected


@EVALUATORS
def test_the_changes_of_london_by_hand(evaluate):
    """EU directive 2000/84/EC: the last Sundays of March and October, 01:00 UTC."""
    claims = ["between 22:00 and 07:00", "between 01:15 and 01:45", "between 01:30 and 02:30"]
    zone, found = ZoneInfo("Europe/London"), {}
    for date in ("2026-03-29", "2026-10-25"):
        span, _ = week(zone, date)
        outcome = evaluate(compile_plan(plan_in(zone.key, ["at 01:30"], claims)), Record(zone.key, span, {}))
        day = ms(datetime.fromisoformat(f"{date} 00:00+00:00"))
        for claim in claims:
            hours = [((s - day) / HOUR_MS, (e - day) / HOUR_MS) for s, e in true_spans(outcome.levels[claim], span)]
            found[date, claim] = [one for one in hours if -4 < one[0] < 6]
        fired = (outcome.fired["at 01:30"] - day) / HOUR_MS
        found[date, "at"] = fired[(fired > 0) & (fired < 6)].tolist()
    assert found == {
        ("2026-03-29", claims[0]): [(-2, 6)],  # a night of 8 hours
        ("2026-03-29", claims[1]): [],  # nothing but skipped minutes
        ("2026-03-29", claims[2]): [(1, 1.5)],  # 01:00 UTC is the first instant after the gap; 02:30 BST is 01:30 UTC
        ("2026-03-29", "at"): [1],
        ("2026-10-25", claims[0]): [(-3, 7)],  # a night of 10 hours
        ("2026-10-25", claims[1]): [(0.25, 1.75)],  # the first 01:15 to the last 01:45
        ("2026-10-25", claims[2]): [(0.5, 2.5)],
        ("2026-10-25", "at"): [0.5],  # the first of the two
    }


@EVALUATORS
@pytest.mark.parametrize(
    ("last", "told"),
    [
        ("2026-10-24 20:00+01:00", "2026-10-25 07:00+00:00"),  # 20:00 to 07:00 on the wall: 12 h have passed
        ("2026-03-28 20:00+00:00", "2026-03-29 09:00+01:00"),
        ("2026-06-10 20:00+01:00", "2026-06-11 08:00+01:00"),
    ],
)
def test_a_timer_runs_on_elapsed_time(evaluate, last, told):
    """The night of the change: 12 h of silence are 12 h, whatever the clock on the wall shows."""
    last, told = ms(datetime.fromisoformat(last)), ms(datetime.fromisoformat(told))
    when = "no bell.pressed for 12h"
    record = Record("Europe/London", (last - HOUR_MS, last + 30 * HOUR_MS), {"bell.pressed": Pulses(np.array([last]))})
    outcome = evaluate(compile_plan(plan_in("Europe/London", whens=[when])), record)
    assert outcome.fired[when].tolist() == [told]
