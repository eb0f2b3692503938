"""Dials in the call lists: hours widened, somebody told at once, another channel, a shorter wait."""

from collections.abc import Iterator
from dataclasses import replace

from stillwell.civiltime import ClockTime
from stillwell.plan.model import Plan
from stillwell.proof.helps.change import Change, Dial, Edit, Setting, shorter, single
from stillwell.proof.helps.rules import ALWAYS, Spot, wider, window_sides
from stillwell.rules.formula import And, Between, Formula, OnDays, Or
from stillwell.rules.words import duration_text

AGREED = "Only if they agree to it."
HURRIED = "Whoever is told first has less time to answer before others are told as well."


def people_dials(plan: Plan, hazard: str) -> Iterator[Dial]:
    """Yield what can be changed about who is told of a hazard, when, and how."""
    calls = list(dict.fromkeys(alarm.call for alarm in plan.alarm if alarm.hazard == hazard))
    called = dict.fromkeys(person for call in calls for step in plan.calls[call].steps for person in step.whom)
    for person in called:
        yield from _hours(plan, person)
    for call in calls:
        yield from _joins(plan, call)
    for call in calls:
        yield from _channels(plan, call)
        yield from _waits(plan, call)


def _hours(plan: Plan, person: str) -> Iterator[Dial]:
    """Yield each window of a person's hours widened, and the hours made all hours."""
    rule = plan.people[person].reachable
    if rule is None or rule.formula == ALWAYS:
        return
    said = f"{plan.people[person].name}, reachable"
    root = Spot(("people", person, "reachable"), rule, rule.formula, said)
    for window in _windows_in(rule.formula):
        if isinstance(window.start, ClockTime) and isinstance(window.end, ClockTime):
            yield _wider(replace(root, node=window), window)
    if not isinstance(rule.formula, Between):
        yield single(root.put(ALWAYS, AGREED))


def _wider(spot: Spot, window: Between) -> Dial:
    return Dial(
        f"{spot.said}: longer hours", window_sides(window), lambda setting: spot.put(wider(window, setting), AGREED)
    )


def _windows_in(formula: Formula) -> Iterator[Between]:
    match formula:
        case Between():
            yield formula
        case And(parts) | Or(parts):
            for part in parts:
                yield from _windows_in(part)
        case OnDays():
            return
        case _:
            return


def _joins(plan: Plan, call: str) -> Iterator[Dial]:
    """Yield somebody told in the first step who is told later or not at all."""
    step = plan.calls[call].steps[0]
    for name, person in plan.people.items():
        if name not in step.whom and step.by in person.channels:
            told = f"In the call list {call}: {person.name} is told in the first step too"
            yield single(Change(told, (Edit(("calls", call, "steps", 0, "whom"), [*step.whom, name]),), AGREED))


def _channels(plan: Plan, call: str) -> Iterator[Dial]:
    """Yield a step that tells its people by another channel that all of them have."""
    for number, step in enumerate(plan.calls[call].steps):
        common = set[str].intersection(*(set(plan.people[person].channels) for person in step.whom))
        for channel in sorted(common - {step.by}):
            told = f"In the call list {call}, step {number + 1}: by {channel} instead of {step.by}"
            yield single(Change(told, (Edit(("calls", call, "steps", number, "by"), channel),), AGREED))


def _waits(plan: Plan, call: str) -> Iterator[Dial]:
    """Yield each wait for an answer made shorter."""
    for number, step in enumerate(plan.calls[call].steps):
        yield _wait(call, number, step.wait, shorter(step.wait))


def _wait(call: str, number: int, wait_ms: int, values: tuple[int, ...]) -> Dial:
    said = f"In the call list {call}, step {number + 1}"

    def change(setting: Setting) -> Change:
        new = duration_text(values[setting[0] - 1])
        told = f"{said}: wait {new} instead of {duration_text(wait_ms)}"
        return Change(told, (Edit(("calls", call, "steps", number, "wait"), new),), HURRIED)

    return Dial(f"{said}: a shorter wait", (len(values),), change)
