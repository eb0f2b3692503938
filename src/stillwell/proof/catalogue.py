"""The hazards: what each does to the signals from its onset on.

Every figure here is an assumption about the world, not about the rules; docs/proof.md lists them. A plan's hazard
names its kind and may narrow it to some parts or openings and give the delay until the first detector can tell.
"""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from stillwell.plan.model import Hazard, Part, Plan
from stillwell.proof.world import Level
from stillwell.record.columns import FALSE, TRUE

FAR = 1e6
"""A measured number beyond every figure that a rule may compare it with."""

AT_REST: Mapping[str, float] = {"C": 20.0, "%": 80.0, "ppm": 5.0, "ug/m3": 5.0, "W": 0.0}
"""What a number is when nothing is the matter, by unit."""

INTRUDER_SEEN_MS = 10_000
"""How long after an outside opening was passed the movement detector of that room sees somebody."""

DOOR_SHUT_MS = 30_000
"""How long an outside door stands open when somebody walks out and pulls it to."""

BESIDE_M = 1.0
"""Two parts of one kind nearer to each other than that are reached by the same water, smoke, gas or cold."""

TAMPERING_EVERY_MS, TAMPERING_TIMES = 20_000, 16
"""Somebody at work on a door or window shakes it again and again: so often, so many times."""


@dataclass(frozen=True)
class Onset:
    """One way a hazard may begin.

    ``pulses`` and ``levels`` are what it makes parts report. ``life_ends``: no sign of life comes after the onset;
    ``life`` are the offsets of signs of life that the hazard itself brings. ``at_night``: it counts only then.
    ``mains_off``: the mains fail at the onset.
    """

    told: str
    pulses: Mapping[str, tuple[int, ...]] = field(default_factory=dict)
    levels: Mapping[str, Level] = field(default_factory=dict)
    life_ends: bool = False
    life: tuple[int, ...] = (0,)
    at_night: bool = False
    mains_off: bool = False


def onsets(plan: Plan, hazard: Hazard) -> tuple[Onset, ...]:
    """Return every way in which a hazard of the plan may begin; none where no part of the plan could ever tell."""
    return tuple(_of_kind(plan, hazard))


def _of_kind(plan: Plan, hazard: Hazard) -> Iterator[Onset]:
    match hazard.kind:
        case "collapse":
            yield Onset("the resident lies still", life_ends=True)
        case "intrusion":
            yield from _intrusion(plan, hazard)
        case "wandering":
            yield from _wandering(plan, hazard)
        case "tampering":
            shakes = tuple(hazard.delay + TAMPERING_EVERY_MS * time for time in range(TAMPERING_TIMES))
            for part in _parts(plan, hazard, "vibration"):
                pulses = {f"{name}.vibration": shakes for name in side_by_side(plan, part)}
                yield Onset(f"somebody is at {part}", pulses)
        case "water":
            yield from _levels(plan, hazard, "water", "wet", "water reaches")
        case "smoke":
            yield from _levels(plan, hazard, "smoke", "smoke", "smoke reaches")
        case "carbon monoxide":
            for part in _parts(plan, hazard, "carbon monoxide"):
                levels = {}
                for name in side_by_side(plan, part):
                    levels[f"{name}.carbon_monoxide"] = Level(FALSE, ((hazard.delay, TRUE),))
                    levels[f"{name}.ppm"] = Level(AT_REST["ppm"], ((hazard.delay, FAR),))
                yield Onset(f"carbon monoxide reaches {part}", levels=levels)
        case "cold" | "heat":
            beyond = -FAR if hazard.kind == "cold" else FAR
            for part in _parts(plan, hazard, "temperature"):
                level = Level(AT_REST["C"], ((hazard.delay, beyond),))
                levels = {f"{name}.temperature": level for name in side_by_side(plan, part)}
                yield Onset(f"{part} has become too {hazard.kind}", levels=levels)
        case "call for help":
            for part in _parts(plan, hazard, "wearable call button", "push button"):
                yield Onset(f"{part} is pressed", pulses={f"{part}.pressed": (hazard.delay,)})
        case "no power":
            for part in _parts(plan, hazard, "controller"):
                level = Level(TRUE, ((hazard.delay, FALSE),))
                yield Onset("the mains fail", levels={f"{part}.mains": level}, mains_off=True)
        case "blind":
            return


def _levels(plan: Plan, hazard: Hazard, kind: str, signal: str, words: str) -> Iterator[Onset]:
    for part in _parts(plan, hazard, kind):
        level = Level(FALSE, ((hazard.delay, TRUE),))
        yield Onset(f"{words} {part}", levels={f"{name}.{signal}": level for name in side_by_side(plan, part)})


def _parts(plan: Plan, hazard: Hazard, *kinds: str) -> Iterator[str]:
    for name, part in plan.parts.items():
        if part.kind in kinds and (not hazard.parts or name in hazard.parts):
            yield name


def side_by_side(plan: Plan, part: str) -> list[str]:
    """Return the parts that whatever reaches one of them reaches as well, itself among them.

    They are of one kind and sit on one door or window, or stand in one room less than ``BESIDE_M`` apart.
    """
    return [name for name in plan.parts if name == part or _beside(plan.parts[name], plan.parts[part])]


def _beside(one: Part, other: Part) -> bool:
    if one.kind != other.kind or one.room != other.room or one.opening != other.opening:
        return False
    if one.opening is not None:
        return True
    if one.room is None or one.place is None or other.place is None:
        return False
    return math.dist(one.place[:2], other.place[:2]) < BESIDE_M


def outside_openings(plan: Plan, hazard: Hazard, *kinds: str) -> Iterator[str]:
    """Return the openings to the outside that a hazard means."""
    for name, opening in plan.openings.items():
        outside = "outside" in opening.rooms
        if opening.kind in kinds and (name in hazard.openings or (not hazard.openings and outside)):
            yield name


def _contacts(plan: Plan, opening: str) -> list[str]:
    return [name for name, part in plan.parts.items() if part.kind == "contact" and part.opening == opening]


def _intrusion(plan: Plan, hazard: Hazard) -> Iterator[Onset]:
    for opening in outside_openings(plan, hazard, "door", "window"):
        rooms = set(plan.openings[opening].rooms) - {"outside"}
        seen = hazard.delay + INTRUDER_SEEN_MS
        pulses = {
            f"{name}.movement": (seen,)
            for name, part in plan.parts.items()
            if part.kind == "movement" and part.room in rooms
        }
        for shut in (None, hazard.delay + DOOR_SHUT_MS):
            levels = {f"{part}.open": _opens(hazard.delay, shut) for part in _contacts(plan, opening)}
            how = "left open" if shut is None else "shut again"
            yield Onset(f"somebody comes in by {opening}, {how}", pulses, levels, life=())


def _wandering(plan: Plan, hazard: Hazard) -> Iterator[Onset]:
    for opening in outside_openings(plan, hazard, "door"):
        for shut in (None, hazard.delay + DOOR_SHUT_MS):
            levels = {f"{part}.open": _opens(hazard.delay, shut) for part in _contacts(plan, opening)}
            how = "left open" if shut is None else "shut behind"
            life = (0,) if shut is None else (0, shut)
            yield Onset(f"the resident goes out by {opening}, {how}", {}, levels, True, life, at_night=True)


def _opens(at: int, shut: int | None) -> Level:
    return Level(FALSE, ((at, TRUE),) if shut is None else ((at, TRUE), (shut, FALSE)))
