"""The people: when they can be reached, and whether call lists speak of them and their channels."""

from collections.abc import Iterator

from stillwell.plan.check_place import calendar_only
from stillwell.plan.fault import Fault, Path, Untold
from stillwell.plan.known import unknown_name
from stillwell.plan.model import Plan
from stillwell.plan.naming import nearest, short


def check_people(plan: Plan, _untold: Untold) -> Iterator[Fault]:
    """When somebody can be reached is a matter of the calendar."""
    for name, person in plan.people.items():
        if person.reachable is not None:
            yield from calendar_only(("people", name, "reachable"), person.reachable)


def check_calls(plan: Plan, untold: Untold) -> Iterator[Fault]:
    """Everybody on a call list exists, once a step, and has the step's channel."""
    for name, call in plan.calls.items():
        for number, step in enumerate(call.steps):
            path: Path = ("calls", name, "steps", number)
            for place, person in enumerate(step.whom):
                yield from unknown_name(plan, untold, (*path, "whom", place), "people", person)
                if person in step.whom[:place]:
                    what = f"{short(person)} stands twice in this step"
                    yield Fault((*path, "whom", place), "person-twice", what, "Name each person once.")
            yield from _channel_faults(plan, untold, path, step.whom, step.by)


def _channel_faults(plan: Plan, untold: Untold, path: Path, whom: tuple[str, ...], by: str) -> Iterator[Fault]:
    for name in dict.fromkeys(whom):
        person = plan.people.get(name)
        if person is None or by in person.channels or untold.touches(("people", name, "channels")):
            continue
        what = f'{name} has no channel "{short(by)}"'
        yield Fault((*path, "by"), "channel-missing", what, nearest(by, person.channels, f"Channels of {name}"))


def check_upkeep(plan: Plan, untold: Untold) -> Iterator[Fault]:
    """The call list of the keeper of the system exists."""
    if plan.upkeep is not None:
        yield from unknown_name(plan, untold, ("upkeep", "call"), "calls", plan.upkeep.call)
