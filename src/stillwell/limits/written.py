"""A learned table as a plan holds it: rows by room, or by what gave the last sign where a room has several parts."""

from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby

from stillwell.civiltime import ClockTime
from stillwell.limits.table import DAY_MINUTES, DAY_MS, LimitRow, LimitTable
from stillwell.plan.edit import Value, append_entry, write_limits
from stillwell.plan.kinds import OUTSIDE
from stillwell.plan.limits import LimitRow as PlanRow
from stillwell.plan.limits import LimitTable as PlanTable
from stillwell.plan.model import Alarm, Plan
from stillwell.plan.names import base_signals_of_life, nodes
from stillwell.plan.texts import EVERY_DAY
from stillwell.rules.formula import At, Between, Formula, NoneForLimit, OnDays
from stillwell.rules.words import duration_text

QUESTION, CALL = "question", "call"
"""The tables of the two alarms: what asks in the home, and what calls the family."""
LONGEST_BUDGET_DAYS = 400
"""No duration of a plan is longer."""
LEARNED_ALARM = "No sign of life, by learned limits"
LEARNED_QUESTION = "Is all well?"


def plan_table(plan: Plan, table: LimitTable, why: str, budget_days: float | None = None) -> PlanTable:
    """Return a learned table in the plan's own words; its rows mean the same to every sign of the plan's.

    ``budget_days`` is in how many days one false alarm was allowed; beyond what a plan can say it is left out.
    """
    parts = tuple(dict.fromkeys(part for row in table.rows for part in row.parts))
    rows = [row for group, found in _groups(table.rows) for row in _plan_rows(plan, group, parts, found)]
    given: dict[str, object] = {"longest": duration_text(table.longest_ms), "rows": tuple(rows), "why": why}
    if budget_days is not None and budget_days <= LONGEST_BUDGET_DAYS:
        given["one_false_in"] = duration_text(round(budget_days * DAY_MS))
    return PlanTable.model_validate(given)


def place_of(plan: Plan, parts: Sequence[str]) -> str | None:
    """Return the room that some parts report from; None where they are of several, or of none."""
    rooms = {_room(plan, part) for part in parts}
    return rooms.pop() if len(rooms) == 1 else None


def _groups(rows: Sequence[LimitRow]) -> Iterator[tuple[tuple[str, ...], list[LimitRow]]]:
    for parts, found in groupby(rows, key=lambda row: row.parts):
        yield parts, list(found)


def _plan_rows(plan: Plan, group: tuple[str, ...], every: Sequence[str], rows: Sequence[LimitRow]) -> Iterator[PlanRow]:
    for row in _over_midnight(rows):
        given = _hours(row) | {"days": row.days, "limit": duration_text(row.limit_ms)}
        if not group:
            yield PlanRow.model_validate(given)
        for where in _places(plan, group, every) if group else ():
            yield PlanRow.model_validate(given | where)


def _places(plan: Plan, group: Sequence[str], every: Sequence[str]) -> Iterator[dict[str, str]]:
    """Say of which signs a row is: a room where all that was learned of it is in the group, else signal by signal."""
    rooms = {part: _room(plan, part) for part in every}
    done = set()
    for part in group:
        room = rooms[part]
        alike = [other for other in every if rooms[other] == room]
        if room is not None and set(alike) <= set(group):
            if room not in done:
                done.add(room)
                yield {"room": room}
        else:
            yield from ({"last": name} for name in sorted(base_signals_of_life(plan)) if name.startswith(f"{part}."))


def _room(plan: Plan, name: str) -> str | None:
    part = plan.parts.get(name)
    return None if part is None else part.room


def _over_midnight(rows: Sequence[LimitRow]) -> list[LimitRow]:
    """Join what stands before midnight with the like after it: one row where a person would write one."""
    if len(rows) < 2:
        return list(rows)
    first, last = rows[0], rows[-1]
    meets = first.from_minute == 0 and last.until_minute == DAY_MINUTES and first.days == last.days == EVERY_DAY
    if not meets or first.limit_ms != last.limit_ms:
        return list(rows)
    joined = LimitRow(last.parts, last.from_minute, first.until_minute, last.days, last.limit_ms)
    return [*rows[1:-1], joined]


def _hours(row: LimitRow) -> dict[str, object]:
    if row.from_minute == 0 and row.until_minute == DAY_MINUTES:
        return {}
    return {"from": ClockTime(row.from_minute), "to": ClockTime(row.until_minute % DAY_MINUTES)}


def write_proposal(text: str, plan: Plan, tables: Mapping[str, PlanTable]) -> str:
    """Return the text of a plan with learned tables in it, and with rules that wait for them where none does yet.

    Every other character stays. The new alarm is for the first hazard of the kind collapse, with the call list of an
    alarm for it; the new aid sounds what can sound in the home. Without such a hazard and alarm, or any sounder, there
    is none.
    """
    for name, table in tables.items():
        text = write_limits(text, name, table)
    alarm = _new_alarm(plan)
    if CALL in tables and alarm is not None and not waits_for(plan, CALL):
        text = append_entry(text, ("alarm", len(plan.alarm)), alarm)
    question = _new_question(plan)
    if QUESTION in tables and question is not None and not waits_for(plan, QUESTION):
        text = append_entry(text, ("aid", len(plan.aid)), question)
    return text


def waits_for(plan: Plan, table: str) -> bool:
    """Whether a rule of the plan waits for a table of limits."""
    rules = [*(rule.when for rule in plan.alarm), *(rule.when for rule in plan.aid), *plan.signals.values()]
    return any(isinstance(node, NoneForLimit) and node.limit == table for rule in rules for node in nodes(rule.formula))


def _new_alarm(plan: Plan) -> dict[str, Value] | None:
    """Return an alarm for the first collapse that has one: its call list, and what must hold too but for the hour."""
    alarms = _for_collapse(plan)
    if not alarms:
        return None
    told: dict[str, Value] = {
        "name": LEARNED_ALARM,
        "hazard": alarms[0].hazard,
        "when": f"no sign_of_life for limit {CALL}",
    }
    return told | _holding(alarms) | {"call": alarms[0].call}


def _new_question(plan: Plan) -> dict[str, Value] | None:
    """Return an aid that sounds for a minute in the home, while the same holds; any sign of life is the answer."""
    rooms = [name for name, room in plan.rooms.items() if room.use != OUTSIDE]
    indoors = [name for name, part in plan.parts.items() if part.kind == "sounder" and part.room in rooms]
    if not indoors:
        return None
    told: dict[str, Value] = {"name": LEARNED_QUESTION, "when": f"no sign_of_life for limit {QUESTION}"}
    return told | _holding(_for_collapse(plan)) | {"do": [f"{name} on for 1min" for name in indoors]}


def _for_collapse(plan: Plan) -> list[Alarm]:
    """Return the alarms for the first collapse that has any."""
    hazards = [hazard.name for hazard in plan.hazard if hazard.kind == "collapse"]
    alarms = [alarm for name in hazards for alarm in plan.alarm if alarm.hazard == name]
    return [alarm for alarm in alarms if alarm.hazard == alarms[0].hazard]


def _holding(alarms: Sequence[Alarm]) -> dict[str, Value]:
    """Return what must hold for the first of some alarms that asks for more than an hour of the day."""
    holds = (alarm.while_.text for alarm in alarms if alarm.while_ and not _of_the_hour(alarm.while_.formula))
    first = next(holds, None)
    return {} if first is None else {"while": first}


def _of_the_hour(formula: Formula) -> bool:
    return any(isinstance(node, Between | OnDays | At) for node in nodes(formula))
