"""Call lists that reach nobody, or nobody who could come."""

from collections.abc import Iterator

import numpy as np

from stillwell.civiltime import Span
from stillwell.engine.axis import cover
from stillwell.plan.model import Plan
from stillwell.proof.curve import NEVER, Curve
from stillwell.proof.findings.finding import Finding, finding, listed, quoted
from stillwell.proof.findings.spans import at_most, hours
from stillwell.proof.results import Proof
from stillwell.proof.tell import Telling


def nobody_reachable(proof: Proof) -> Iterator[Finding]:
    """Yield each call list of alarms with hours at which nobody on it can be reached."""
    plan, week = proof.plan, proof.span
    telling = Telling(plan, week)
    for call in _of_alarms(plan):
        gaps = _gaps(telling, call, week)
        if not gaps:
            continue
        longest_ms = _longest_wait_ms(telling, call, week)
        alarms = [alarm for alarm in plan.alarm if alarm.call == call]
        late = [alarm.name for alarm in alarms if longest_ms is None or longest_ms > _shortest_ms(plan, alarm.hazard)]
        waits = "reaches nobody, ever" if longest_ms is None else f"waits for up to {at_most(longest_ms)}"
        text = (
            f"Nobody on this list can be reached {hours(proof.program.home.zone, gaps, week)}. An alarm that is raised "
            f"then {waits}"
        )
        text += f", which alone is more than {quoted(late)} may take." if late else "."
        remedy = "Add somebody who can be woken at those hours, or a service that is always there."
        yield finding(plan, "nobody-reachable", ("calls", call), "danger" if late else "note", text, remedy)


def nobody_can_come(plan: Plan) -> Iterator[Finding]:
    """Yield each call list of alarms on which nobody can come to the door."""
    for call in _of_alarms(plan):
        people = _on_list(plan, call)
        if all(plan.people[person].minutes_to_door is None for person in people):
            alarms = [alarm.name for alarm in plan.alarm if alarm.call == call]
            text = f"Nobody on this list ({listed(people)}) can come to the door. It is rung for {quoted(alarms)}."
            remedy = "Add somebody near by, or say minutes_to_door of those who can come."
            yield finding(plan, "nobody-can-come", ("calls", call), "warning", text, remedy)


def _of_alarms(plan: Plan) -> list[str]:
    used = {alarm.call for alarm in plan.alarm}
    return [call for call in plan.calls if call in used]


def _on_list(plan: Plan, call: str) -> list[str]:
    return list(dict.fromkeys(person for step in plan.calls[call].steps for person in step.whom))


def _gaps(telling: Telling, call: str, week: Span) -> list[Span]:
    """Return the stretches of the week in which nobody on a list can be reached."""
    hours_of = [telling.hours(person) for person in _on_list(telling.plan, call)]
    starts, ends = cover(np.concatenate([one[0] for one in hours_of]), np.concatenate([one[1] for one in hours_of]))
    edges = zip(np.append(week[0], ends).tolist(), np.append(starts, week[1]).tolist(), strict=True)
    found = [(max(start, week[0]), min(end, week[1])) for start, end in edges]
    found = [(start, end) for start, end in found if start < end]
    if len(found) > 1 and found[0][0] == week[0] and found[-1][1] == week[1]:
        found = [*found[1:-1], (found[-1][0], week[1] + found[0][1] - week[0])]
    return found


def _longest_wait_ms(telling: Telling, call: str, week: Span) -> float | None:
    """Return the longest time from an alarm to the first person who notices a message about it; None: never."""
    at_once = Curve(
        np.array([week[0]], np.int64),
        np.array([week[0]], np.int64),
        np.array([False]),
        np.array([0], np.int64),
        week[1],
    )
    told = telling.curve(call, at_once)
    if (told.value == NEVER).any():
        return None
    waits = np.where(told.fixed, told.value - told.points, told.value)
    return float(max(waits.max(), (told.there - told.points).max()))


def _shortest_ms(plan: Plan, hazard: str) -> int:
    deadline = next(one.deadline for one in plan.hazard if one.name == hazard)
    return min(deadline.day, deadline.night)
