"""What a plan holds, in sentences."""

from collections import Counter

from stillwell.plan.model import Hazard, Person, Plan, State
from stillwell.wording.counting import counted, listed
from stillwell.wording.durations import exact
from stillwell.wording.formulas import calendar
from stillwell.wording.rules import name_alone
from stillwell.wording.vocabulary import spaced


def holdings(plan: Plan) -> str:
    """Say how much of everything a plan holds."""
    return ", ".join(
        [
            counted(len(plan.rooms), "room"),
            counted(len(plan.openings), "door or window", "doors and windows"),
            counted(len(plan.parts), "part"),
            counted(len(plan.people), "person", "people"),
            counted(len(plan.calls), "call list"),
            counted(len(plan.hazard), "hazard"),
            counted(len(plan.alarm), "alarm"),
            counted(len(plan.aid), "aid"),
            counted(len(plan.never), "claim"),
        ]
    )


def parts_sentence(plan: Plan) -> str:
    """Say which kinds of part there are: "5 movement, 3 contact, 1 controller"."""
    kinds = Counter(part.kind for part in plan.parts.values())
    return listed([f"{count} {kind}" for kind, count in kinds.items()]) or "none"


def hazard_sentence(hazard: Hazard, plan: Plan) -> str:
    """Say by when somebody must be told of a hazard, and which alarms are there for it."""
    by_day, by_night = hazard.deadline.day, hazard.deadline.night
    deadline = exact(by_day) if by_day == by_night else f"{exact(by_day)} by day, {exact(by_night)} by night"
    alarms = [f'"{alarm.name}"' for alarm in plan.alarm if alarm.hazard == hazard.name]
    tells = f"raised by {listed(alarms)}" if alarms else "no alarm is there for it"
    return f"Somebody must be told within {deadline}; {tells}."


def state_sentence(name: str, state: State) -> str:
    """Say what a state of the home may be, how it begins, and who sets it."""
    values = listed([spaced(value) for value in state.values], "or")
    by = {"rules": "the rules alone", "resident": "the resident", "anyone": "anybody"}[state.set_by]
    return f"{spaced(name)} is {values}, {spaced(state.initial)} at first; set by {by}."


def person_sentence(person: Person) -> str:
    """Say how and when somebody can be told, and how far they are."""
    when = "always" if person.reachable is None else calendar(person.reachable.formula)
    door = "cannot come" if person.minutes_to_door is None else f"{person.minutes_to_door:g} min from the door"
    return f"{name_alone(person.name)}: by {listed(list(person.channels), 'or')}, {when}; {door}."
