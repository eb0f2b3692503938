"""Learned limits as a daughter reads them: what is promised, what came of it, what speaks against it."""

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from stillwell.limits.drift import Moved
from stillwell.limits.proposal import FEW_DAYS, Choice, Limit, Proposal
from stillwell.limits.realised import Judged
from stillwell.limits.support import Support
from stillwell.limits.table import LimitTable
from stillwell.plan.model import Plan
from stillwell.plan.signs import outside_doors
from stillwell.wording.counting import counted, listed, rate_text, two_digits
from stillwell.wording.durations import HOUR_MS, MINUTE_MS, SECOND_MS, at_most, exact, rounded
from stillwell.wording.proof import weekdays
from stillwell.wording.vocabulary import spaced

SHOWN_HOURS: Final = (0, 3, 6, 9, 12, 15, 18, 21)
_SAMPLE_MS: Final = 345_600_000
"""The fifth of January 1970, a Monday: a local day by which a table is read off."""


def budget_text(days: float) -> str:
    """Say a budget: "1 in 60 days"."""
    return f"1 in {days:g} days"


def promise_sentences(limit: Limit) -> Iterator[str]:
    """Say what is promised, what came of it on other days, and whether the record carries the promise."""
    yield f"Promised: at most {budget_text(limit.budget_days)}."
    judged = limit.judged
    if judged is None:
        yield "Not tried: the record has no days left to try it on."
    else:
        yield (
            f"On {counted(judged.days, 'day')} that the limits were not learned from there "
            f"{'was' if judged.false.count == 1 else 'were'} {counted(judged.false.count, 'false alarm')}: "
            f"{rate_text(judged.false)} in 30 days."
        )
    yield support_sentence(limit.support, judged)


def support_sentence(found: Support, judged: Judged | None) -> str:
    """Say what the record can carry of a promise, and how many quiet days are missing."""
    sure = f"{found.confidence * 100:.0f} %"
    if found.shown:
        return f"The record carries this promise, {sure} sure."
    promised = 1 / found.budget_days
    more = f"{counted(found.more_days, 'more quiet day')} would"
    if judged is not None and judged.false.low / 30 > promised:
        return (
            f"The record speaks against this promise: so many false alarms are no chance. {more} be needed to make up "
            "for them."
        )
    if found.least_days <= 0:
        return f"The record cannot carry this promise: {more} show it, {sure} sure."
    return (
        f"The record cannot carry this promise: it shows no better than {budget_text(math.floor(found.least_days))}, "
        f"{sure} sure. {more} show it."
    )


def notice_sentence(judged: Judged) -> str:
    """Say how soon silence for good is noticed, whenever it begins."""
    whole, by_day = judged.whole, judged.by_day
    return (
        f"Silence that begins at any moment raises the alarm: half the time after {_time(whole.median)}, 19 times in "
        f"20 after {_time(whole.p95)}, at the longest after {_time(whole.max)}. If it begins between 08:00 and 22:00: "
        f"after {_time(by_day.median)} and {_time(by_day.p95)}."
    )


def warning_sentences(found: Proposal) -> list[str]:
    """Say what the reader must know before they believe the limits."""
    return [
        *_few_days(found),
        *(sentence for limit in (found.question, found.call) for sentence in _beyond_the_cap(limit)),
        *(_moved(each) for each in found.moved),
        *_company(found),
        *_doors(found),
    ]


def moved_sentence(each: Moved) -> str:
    """Say that a figure of the day has moved."""
    before, recent = each.before, each.recent
    match each.figure:
        case "begins":
            return f"the day begins at {_clock(recent)} rather than {_clock(before)}"
        case "ends":
            return f"the day ends at {_clock(recent)} rather than {_clock(before)}"
        case "signs":
            return f"there are {recent:.0f} signs of life a day rather than {before:.0f}"
        case "silence by day" | "silence by night":
            longest = f"the longest silence {each.figure.removeprefix('silence ')}"
            return f"{longest} is {rounded(recent * MINUTE_MS)} rather than {rounded(before * MINUTE_MS)}"


@dataclass(frozen=True, slots=True)
class Line:
    """What limits are shown for: signs of a part on days of the week that have the same limits all day."""

    part: str
    name: str
    day: int
    """One of those days, Monday 0."""


def lines(plan: Plan, *tables: LimitTable) -> Iterator[Line]:
    """Yield what tables are to be shown for: each place, and where days differ each kind of day."""
    for part, name in places(plan, tables[-1]):
        alike: dict[tuple[int, ...], list[int]] = {}
        for day in range(7):
            limits = (limit for table in tables for limit in limits_at(table, part, range(0, 24 * 60, 30), day))
            alike.setdefault(tuple(limits), []).append(day)
        for days in alike.values():
            yield Line(part, name if len(alike) == 1 else f"{name}, {weekdays(days)}", days[0])


def limit_cells(table: LimitTable, line: Line, hours: Sequence[int] = SHOWN_HOURS) -> list[str]:
    """Return how long silence may last after a sign at some hours."""
    return [_hours_minutes(limit) for limit in limits_at(table, line.part, [hour * 60 for hour in hours], line.day)]


def limits_at(table: LimitTable, part: str, minutes: Sequence[int], day: int = 0) -> list[int]:
    """Return the limits in ms after signs from a part at some minutes of a local day, Monday 0."""
    local = np.array([_SAMPLE_MS + day * 24 * HOUR_MS + minute * MINUTE_MS for minute in minutes], np.int64)
    found: list[int] = table.limits([part], np.zeros(len(local), np.int64), local).tolist()
    return found


def choice_name(choice: Choice) -> str:
    """Name a way to set limits."""
    match choice.kind:
        case "learned":
            return f"learned, {budget_text(choice.size)}"
        case "fixed":
            return f"fixed, {choice.size:g} h"
        case _:
            return way_name(choice)


def way_name(choice: Choice) -> str:
    """Name the way by which limits are set, whatever its setting."""
    match choice.kind:
        case "learned" | "fixed":
            return f"{choice.kind} limits"
        case _:
            return "a look a day at 08:00" if choice.method is None else choice.method.name


def choice_mark(choice: Choice) -> str:
    """Say beside a point of a chart which setting of its way it is; nothing where there is only one."""
    match choice.kind:
        case "learned":
            return f"1 in {choice.size:g} d"
        case "fixed":
            return f"{choice.size:g} h"
        case _:
            return ""


def choice_row(choice: Choice) -> list[str]:
    """Return a row of the table of choices: name, false alarms in 30 days, notice times."""
    judged = choice.judged
    spread, by_day = judged.whole, judged.by_day
    return [
        choice_name(choice),
        f"{two_digits(judged.false.per_30_days)}",
        f"{two_digits(judged.false.low)} to {two_digits(judged.false.high)}",
        *(_hours(value) for value in (spread.median, spread.p95, spread.max, by_day.median, by_day.p95)),
    ]


CHOICE_HEADER: Final = ("", "false in 30 d", "95 %", "half", "19 in 20", "longest", "by day", "19 in 20")


def why_sentence(limit: Limit) -> str:
    """Say in a plan where its figures come from."""
    tried = ""
    if limit.judged is not None:
        tried = f"; {counted(limit.judged.false.count, 'false alarm')} on {limit.judged.days} other days"
    return f"Learned from {limit.learned.days} days for at most {budget_text(limit.budget_days)} false alarm{tried}."


def _few_days(found: Proposal) -> Iterator[str]:
    days = len(found.cleaned.used)
    if days < FEW_DAYS:
        yield f"Only {counted(days, 'day')} count; limits learned from fewer than {FEW_DAYS} still change much."


def _beyond_the_cap(limit: Limit) -> Iterator[str]:
    learned = limit.learned
    if learned.expected_per_day > 1 / limit.budget_days:
        cap, rate = exact(learned.table.longest_ms), two_digits(learned.expected_per_day * 30)
        yield (
            f"No limits keep the promise of {budget_text(limit.budget_days)} with this cap: silences outlast {cap}, "
            f"or come near it too often. About {rate} false alarms in 30 days are to be expected. Allow a longer "
            "one with --longest, or promise less."
        )


def _moved(each: Moved) -> str:
    return (
        f"The routine has moved: in the last {counted(each.days[1], 'day')} that count {moved_sentence(each)}. Limits "
        "learned from the days before may ring too soon or too late: learn them again in two weeks."
    )


def _company(found: Proposal) -> Iterator[str]:
    seen = found.company
    if seen.pairs == 0:
        yield (
            "Whether one person lives there cannot be told: the plan has no two rooms with movement detectors and "
            "another room between them."
        )
    elif seen.shared:
        yield "Movement looks like more than one person; the limits are only as good as your word that it is one."
    elif seen.visits:
        yield f"{counted(len(seen.visits), 'visit')} seen by movement in rooms far apart and left out; others are not."


def _doors(found: Proposal) -> Iterator[str]:
    doors = outside_doors(found.plan)
    if not doors:
        yield (
            "No contact on an outside door tells of outings: after a sign of life at the way out limits are long by "
            "day, for nobody can tell an outing from lying there."
        )
    gone = [door for door in doors if not found.cleaned.trusted(f"{door}.open", found.cleaned.record.span[1] - 1)]
    if gone:
        yield f"{listed(gone)} cannot tell any more whether somebody went out: mend it, and learn again."


def _clock(minutes: float) -> str:
    whole = round(minutes) % (24 * 60)
    return f"{whole // 60:02d}:{whole % 60:02d}"


def _hours_minutes(limit_ms: int) -> str:
    hours, minutes = divmod(limit_ms // MINUTE_MS, 60)
    return f"{hours} h {minutes:02d}" if minutes else f"{hours} h"


def _time(seconds: float | None) -> str:
    return "no time that could be told" if seconds is None else at_most(seconds * SECOND_MS)


def _hours(seconds: float | None) -> str:
    return "never" if seconds is None else f"{seconds / 3600:.1f} h"


def places(plan: Plan, table: LimitTable) -> list[tuple[str, str]]:
    """Return each place of a table as a part of it and how to name it to a reader.

    A part at a door or window is named by that, another by its room, or by itself where the room has several of them in
    the table; what stands for all others comes last, as a part without a name.
    """
    parts = tuple(dict.fromkeys(part for row in table.rows for part in row.parts))
    known = {part: plan.parts[part] for part in parts if part in plan.parts}
    in_room = Counter(one.room for one in known.values() if one.opening is None)
    named = []
    for part in parts:
        one, name = known.get(part), part
        if one is not None and one.opening is not None:
            name = one.opening
        elif one is not None and one.room is not None and in_room[one.room] == 1:
            name = one.room
        named.append((part, spaced(name)))
    others = any(not row.parts for row in table.rows)
    return [*sorted(named, key=lambda pair: pair[1]), *([("", "elsewhere")] if others or not parts else [])]
