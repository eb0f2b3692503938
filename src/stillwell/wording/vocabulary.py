"""What the signals of a plan are called in a sentence."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, TypeAlias

from stillwell.plan.model import Part, Plan
from stillwell.plan.names import SIGN_OF_LIFE, signals_of
from stillwell.rules.kinds import Kind


@dataclass(frozen=True, slots=True)
class Event:
    """A pulse: "there is movement in the hall", "movement in the hall"."""

    clause: str
    noun: str


@dataclass(frozen=True, slots=True)
class Fact:
    """A level: "the hall lamp" and "on" make "is on", "is not on", "has been on". ``no`` instead of "not on"."""

    subject: str
    predicate: str
    no: str = ""

    @property
    def otherwise(self) -> str:
        """The predicate that denies it."""
        return self.no or f"not {self.predicate}"


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number: "the temperature in the bedroom"."""

    noun: str


Said: TypeAlias = Event | Fact | Quantity
Vocabulary: TypeAlias = Mapping[str, Said]
"""By the name that rules use: ``hall_pir.movement``, ``sign_of_life``."""

UNITS: Final = {"C": "°C", "ug/m3": "µg/m³"}

_QUANTITIES: Final = {
    "ppm": "carbon monoxide",
    "temperature": "temperature",
    "co2": "carbon dioxide",
    "humidity": "humidity",
    "pm25": "fine dust",
}


def vocabulary(plan: Plan) -> Vocabulary:
    """Return what every signal of a plan is called."""
    places = Counter((part.kind, _place(name, part)) for name, part in plan.parts.items())
    found: dict[str, Said] = {}
    for name, kind in signals_of(plan).items():
        part_name, _, word = name.partition(".")
        if word:
            part = plan.parts[part_name]
            place = _place(part_name, part)
            if places[part.kind, place] > 1:
                place += f" ({spaced(part_name)})"
            found[name] = _of_part(part_name, part, place, word)
        else:
            found[name] = _derived(name, kind.kind)
    return found


def spaced(name: str) -> str:
    """Write a name of the plan with blanks: "hall lamp"."""
    return name.replace("_", " ")


def the(name: str) -> str:
    """Write a name of the plan with its article: "the hall lamp"."""
    return f"the {spaced(name)}"


def _place(name: str, part: Part) -> str:
    if part.opening is not None:
        return f"at {the(part.opening)}"
    return f"in {the(part.room)}" if part.room is not None else f"at {the(name)}"


def _derived(name: str, kind: Kind) -> Said:
    if name == SIGN_OF_LIFE and kind is Kind.PULSE:
        return Event("there is a sign of life", "sign of life")
    quoted = f'"{spaced(name)}"'
    return Event(quoted, quoted) if kind is Kind.PULSE else Fact(quoted, "true")


def _of_part(name: str, part: Part, place: str, word: str) -> Said:
    thing = place.removeprefix("at ") if part.opening is not None else the(name)
    match word:
        case "movement" | "vibration":
            return Event(f"there is {word} {place}", f"{word} {place}")
        case "open":
            return Fact(thing, "open")
        case "opened":
            return Event(f"{thing} opens", f"opening of {thing}")
        case "closed":
            return Event(f"{thing} closes", f"closing of {thing}")
        case "pressed":
            return Event(f"{the(name)} is pressed", f"press of {the(name)}")
        case "wet":
            return Fact("there", f"water {place}", f"no water {place}")
        case "smoke":
            return Fact("there", f"smoke {place}", f"no smoke {place}")
        case "carbon_monoxide":
            return Fact("there", f"carbon monoxide {place}", f"no carbon monoxide {place}")
        case "occupied" | "on":
            return Fact(the(name), word)
        case "mains":
            return Fact("there", "mains power", "no mains power")
        case "lost":
            return Fact(the(name), "out of touch")
        case "battery":
            return Quantity(f"the battery of {the(name)}")
        case "power":
            return Quantity(f"the power drawn by {the(name)}")
        case _:
            return Quantity(f"the {_QUANTITIES[word]} {place}")
