"""The proof of a plan in plain words: how soon, when it is worst, and what one broken part does."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final
from zoneinfo import ZoneInfo

from stillwell.civiltime import Span, local_datetime
from stillwell.plan.model import Hazard, Plan
from stillwell.proof.corners import Choice
from stillwell.proof.curve import Summary
from stillwell.proof.deadlines import as_bad
from stillwell.proof.faults import LATE_MS, Fault
from stillwell.proof.findings.finding import Severity
from stillwell.proof.results import FaultResult, HazardResult
from stillwell.wording.counting import counted, listed
from stillwell.wording.durations import DAY_MS, SECOND_MS, at_most, exact
from stillwell.wording.instants import clock
from stillwell.wording.rules import name_alone
from stillwell.wording.vocabulary import spaced, the

NEVER_TOLD: Final = "never"
SEVERITY_HEADS: Final[Mapping[Severity, str]] = {
    "danger": "Somebody may come to harm, and nobody would know",
    "warning": "To be mended",
    "note": "To be known",
}
"""What findings of one severity stand under."""
_DAYS: Final = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_WEEK: Final = 7
_MOST_SPANS: Final = 4


def deadline_cell(hazard: Hazard) -> str:
    """Say by when somebody must be told, by day and by night: "5 h, 10 h"."""
    by_day, by_night = exact(hazard.deadline.day), exact(hazard.deadline.night)
    if hazard.kind == "wandering":
        return by_night
    return by_day if by_day == by_night else f"{by_day}, {by_night}"


def notice_cell(seconds: float | None) -> str:
    """Say a notice time, never as less than it is."""
    return NEVER_TOLD if seconds is None else at_most(seconds * SECOND_MS)


def onset_cell(result: HazardResult, worst: Sequence[Span], zone: ZoneInfo) -> str:
    """Say when it must begin to go worst: "any time", "daily just after 20:00", "Tue 22:31", "daily 22:30 to 23:00".

    ``worst`` are the stretches from all of which it takes longest, where there are any.
    """
    case = result.worst
    if case is None or (worst and sum(end - start for start, end in worst) == _length(result)):
        return "any time"
    attained = result.normal.attained
    at = second_clock(zone, case.onset_ms) if attained else f"just after {second_clock(zone, case.onset_ms - 1)}"
    if _of_a_year(result):
        return f"{_date(zone, case.onset_ms)} {at}"
    if worst:
        by_clock = _by_clock(worst, zone)
        (start, end), days = by_clock[0]
        more = f" and {len(by_clock) - 1} more" if len(by_clock) > 1 else ""
        return f"{weekdays(days)} {start} to {end}{more}"
    days = sorted({local_datetime(zone, onset).weekday() for onset in as_bad(result, case.onset_ms)})
    return f"{weekdays(days)} {at}"


def second_clock(zone: ZoneInfo, at_ms: int) -> str:
    """Write a time of day, with seconds where they are not zero."""
    seconds, rest = divmod(at_ms % 60_000, SECOND_MS)
    text = clock(zone, at_ms)
    if not seconds and not rest:
        return text
    exactly = f":{seconds:02}" + (f".{rest:03}" if rest else "")
    return text[:5] + exactly + text[5:]


def _length(result: HazardResult) -> int:
    return result.told.end - int(result.told.points[0])


def _of_a_year(result: HazardResult) -> bool:
    return _length(result) > (_WEEK + 1) * DAY_MS


def _date(zone: ZoneInfo, at_ms: int) -> str:
    local = local_datetime(zone, at_ms)
    return f"{local.day} {local:%b}"


def weekdays(days: Sequence[int]) -> str:
    """Say days of the week, from 0 for Monday: "daily", "Mon to Fri", "Tue, Fri"."""
    if len(days) == _WEEK:
        return "daily"
    if len(days) > 2 and list(days) == list(range(days[0], days[-1] + 1)):
        return f"{_DAYS[days[0]]} to {_DAYS[days[-1]]}"
    return ", ".join(_DAYS[day] for day in days)


def span_words(spans: Sequence[Span], zone: ZoneInfo) -> str:
    """Say stretches of a week by the clock: "from 22:30 to 23:00 (daily) or from 05:30 to 06:30 (Mon to Fri)"."""
    if len(spans) == 1 and spans[0][1] - spans[0][0] >= (_WEEK - 1) * DAY_MS:
        return "at any time"
    found = [f"from {start} to {end} ({weekdays(days)})" for (start, end), days in _by_clock(spans, zone)]
    if len(found) > _MOST_SPANS:
        return f"{listed(found[:_MOST_SPANS], 'or')}, or at {len(found) - _MOST_SPANS} other times"
    return listed(found, "or")


def _by_clock(spans: Sequence[Span], zone: ZoneInfo) -> list[tuple[tuple[str, str], list[int]]]:
    """Group stretches by the times of day at which they begin and end; return those with their weekdays."""
    found: dict[tuple[str, str], set[int]] = {}
    for start, end in spans:
        key = second_clock(zone, start), second_clock(zone, end)
        found.setdefault(key, set()).add(local_datetime(zone, start).weekday())
    return [(key, sorted(days)) for key, days in sorted(found.items(), key=lambda one: -len(one[1]))]


def late_sentence(result: HazardResult, late: Sequence[Span], never: Sequence[Span], zone: ZoneInfo) -> str:
    """Say from which onsets somebody is told too late or never; empty where always in time."""
    if not late:
        return ""
    if _of_a_year(result):
        times = counted(len(late), "stretch", "stretches")
        return f"{result.hazard.name}: not told in time in {times} of the year, first on {_date(zone, late[0][0])}."
    if list(late) == list(never):
        return f"{result.hazard.name}: nobody is ever told if it begins {span_words(never, zone)}."
    text = f"{result.hazard.name}: told too late if it begins {span_words(late, zone)}"
    return f"{text}; never if {span_words(never, zone)}." if never else f"{text}."


def clock_change_sentence(result: HazardResult) -> str:
    """Say that a week in which the clocks change is worse than others; empty where none is."""
    worst = max(result.clock_changes, key=_how_bad, default=None)
    if worst is None or _how_bad(worst) <= _how_bad(result.normal):
        return ""
    return f"{result.hazard.name}: in a week in which the clocks change, at worst {notice_cell(worst.worst_s)}."


def unsettled_sentence(result: HazardResult) -> str:
    """Say that the worst may be worse than said, and why; empty where the proof is exact."""
    if not result.unsettled:
        return ""
    return (
        f"{result.hazard.name}: it may be worse than said. A timer of {listed(result.unsettled)} may still run from "
        "before it begins, and decide something when the alarm might be raised. Give it less time than the alarm "
        "waits, and the proof is exact."
    )


def choice_sentences(result: HazardResult, plan: Plan) -> Iterator[str]:
    """Say what else a person may have set, and what becomes of the hazard then."""
    for choice, summed in result.otherwise.items():
        if summed.worst_s != result.normal.worst_s:
            yield f"{result.hazard.name}: while {choice_words(choice, plan)}, at worst {notice_cell(summed.worst_s)}."


def choice_words(choice: Choice, plan: Plan) -> str:
    """Say how states stand: "holiday is on"."""
    return listed([f"{spaced(name)} is {spaced(plan.states[name].values[value])}" for name, value in choice.states])


def _how_bad(summed: Summary) -> float:
    return float("inf") if summed.worst_s is None else summed.worst_s


def fault_words(fault: Fault, plan: Plan) -> str:
    """Say what is broken, as it follows "with": "the hill hub lost", "Jonas Field out of reach"."""
    match fault.kind:
        case "unreachable":
            return f"{name_alone(plan.people[fault.subject].name)} out of reach"
        case "flat battery not noticed yet":
            return f"the battery of {the(fault.subject)} flat, not noticed yet"
        case "late":
            return f"{the(fault.subject)} reporting {exact(LATE_MS)} late"
        case "out" if fault.subject in plan.ways_out or fault.subject == "internet":
            return f"the way out by {spaced(fault.subject)} down"
        case _:
            return f"{the(fault.subject)} {fault.kind}"


@dataclass(frozen=True, slots=True)
class Broken:
    """What faults that do the same do to hazards: ``faults`` and ``hazards`` in words."""

    faults: str
    hazards: str


def unheard_and_untold(results: Sequence[HazardResult], plan: Plan) -> list[Broken]:
    """Return the faults under which nobody would ever hear of some hazard, nor be told that something is broken.

    Hazards that go unnoticed at times with nothing broken are left out here and below.
    """
    return _said(_unheard(results, told=False), results, plan)


def unheard_but_told(results: Sequence[HazardResult], plan: Plan) -> list[Broken]:
    """Return the faults under which nobody would ever hear of some hazard, but somebody is told of the fault."""
    return _said(_unheard(results, told=True), results, plan)


def slower(results: Sequence[HazardResult], plan: Plan) -> list[Broken]:
    """Return the faults, of those under which somebody is always told, that make it late where it was not."""
    found: dict[tuple[str, ...], list[FaultResult]] = {}
    for faults in zip(*(result.faults for result in results), strict=True):
        hit = tuple(
            f"{result.hazard.name} ({notice_cell(fault.summary.worst_s)})"
            for result, fault in zip(results, faults, strict=True)
            if fault.summary.worst_s is not None and _later(fault.summary, result.normal)
        )
        if hit:
            found.setdefault(hit, []).append(faults[0])
    return _said(found, results, plan)


def _later(summed: Summary, normal: Summary) -> bool:
    longer = _how_bad(summed) > _how_bad(normal) and summed.share_within < 1
    return longer or summed.share_within < normal.share_within


def _unheard(results: Sequence[HazardResult], *, told: bool) -> dict[tuple[str, ...], list[FaultResult]]:
    found: dict[tuple[str, ...], list[FaultResult]] = {}
    for faults in zip(*(result.faults for result in results), strict=True):
        hit = tuple(
            result.hazard.name
            for result, fault in zip(results, faults, strict=True)
            if result.normal.worst_s is not None and fault.summary.worst_s is None
        )
        if hit and (faults[0].told_blind_s is not None) == told:
            found.setdefault(hit, []).append(faults[0])
    return found


def _said(
    found: Mapping[tuple[str, ...], Sequence[FaultResult]], results: Sequence[HazardResult], plan: Plan
) -> list[Broken]:
    every = sum(result.normal.worst_s is not None for result in results)
    rows = []
    for hit, faults in sorted(found.items(), key=lambda row: -len(row[0])):
        plain = all("(" not in name for name in hit)
        hazards = "every hazard" if plain and len(hit) == every > 1 else listed(hit)
        words = _faults_words(faults, plan)
        rows.append(Broken(words[:1].upper() + words[1:], hazards))
    return rows


def _faults_words(faults: Sequence[FaultResult], plan: Plan) -> str:
    """Say several faults; those of one kind together, a flat battery not where the part is named as lost."""
    lost = {found.fault.subject for found in faults if found.fault.kind == "lost"}
    told: dict[str, list[FaultResult]] = {}
    for found in faults:
        if not (found.fault.kind.startswith("flat") and found.fault.subject in lost):
            after = "" if found.told_blind_s is None else at_most(found.told_blind_s * SECOND_MS)
            told.setdefault(f"{found.fault.kind} {after}", []).append(found)
    return listed([_alike(group, plan) for group in told.values()], "or")


def _alike(group: Sequence[FaultResult], plan: Plan) -> str:
    first = group[0]
    text = fault_words(first.fault, plan)
    if len(group) > 1:
        names = [fault_words(found.fault, plan) for found in group]
        start = the(first.fault.subject)
        ending = text.removeprefix(start)
        alike = all(name == the(found.fault.subject) + ending for name, found in zip(names, group, strict=True))
        text = listed([the(found.fault.subject) for found in group], "or") + ending if alike else listed(names, "or")
    if first.told_blind_s is None:
        return text
    return f"{text} (told after {at_most(first.told_blind_s * SECOND_MS)})"
