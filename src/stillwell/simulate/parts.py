"""What each kind of part says of a life: the signals of ``plan.kinds``, before the radio has its way with them."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from stillwell.plan.model import Part, Plan
from stillwell.record.columns import FALSE, TRUE, Column, Pulses, Steps, Times
from stillwell.rules.formula import Switch
from stillwell.simulate.air import Climate, air_reports, temperature_reports
from stillwell.simulate.doors import contact_reports
from stillwell.simulate.draws import stream
from stillwell.simulate.life import Life
from stillwell.simulate.motion import Motion, movement_reports, stirrings, vibration_reports
from stillwell.simulate.things import (
    button_reports,
    first_report_ms,
    lamp_reports,
    outlet_reports,
    seat_reports,
)


@dataclass(frozen=True)
class Scene:
    """A life in a plan, with what several parts have in common worked out once."""

    plan: Plan
    life: Life
    seed: int

    @cached_property
    def climate(self) -> Climate:
        """The weather and the warmth of the house."""
        return Climate(self.plan, self.life, self.seed)

    @cached_property
    def motion(self) -> dict[str, Motion]:
        """When somebody moves, by room: what all detectors of a room look at."""
        return {
            room: stirrings(stays, stream(self.seed, "motion", room)) for room, stays in self.life.stays_by_room.items()
        }

    @cached_property
    def commanded(self) -> frozenset[str]:
        """The parts that rules of the plan switch on; what they only switch off is on to begin with."""
        deeds = [deed.action for aid in self.plan.aid for deed in aid.do]
        deeds += [deed.action for alarm in self.plan.alarm for deed in alarm.do]
        return frozenset(action.part for action in deeds if isinstance(action, Switch) and action.on)


def said_by(name: str, part: Part, scene: Scene, beats: Times) -> dict[str, Column]:
    """Give the signals of a part by name. ``beats`` are its heartbeats.

    Nothing ever gets wet, burns or leaks, and the mains stay on. A part that sends every report repeats with each
    heartbeat how its levels stand.
    """
    said = dict(_signals(name, part, scene, stream(scene.seed, "part", name)))
    if part.reports == "every report" and part.kind not in ("temperature", "air"):
        return {signal: _repeated(column, beats) for signal, column in said.items()}
    return said


def _signals(name: str, part: Part, scene: Scene, rng: np.random.Generator) -> Iterator[tuple[str, Column]]:
    life = scene.life
    room = life.house.room_of(part, scene.plan)
    first_ms = first_report_ms(life, rng)
    match part.kind:
        case "movement":
            yield "movement", movement_reports(scene.motion[room], part, rng)
        case "vibration":
            yield "vibration", vibration_reports(scene.motion[room], part, life, rng)
        case "contact":
            yield "open", contact_reports(part, room, scene.plan, life, rng)
        case "pressure":
            yield "occupied", seat_reports(room, life, rng)
        case "temperature":
            yield "temperature", temperature_reports(part, room, scene.climate, rng)
        case "air":
            yield from air_reports(part, room, scene.climate, rng).items()
        case "outlet" if name not in scene.commanded:
            yield from outlet_reports(name, part, room, life, rng).items()
        case "lamp":
            yield "on", lamp_reports(part, room, life, rng)
        case "push button" | "wearable call button":
            yield "pressed", button_reports(name, part, room, life, rng)
        case "carbon monoxide":
            yield "carbon_monoxide", _standing(FALSE, first_ms)
            yield "ppm", Steps(np.array([first_ms], np.int64), np.zeros(1))
        case "water":
            yield "wet", _standing(FALSE, first_ms)
        case "smoke":
            yield "smoke", _standing(FALSE, first_ms)
        case "controller":
            yield "mains", _standing(TRUE, first_ms)
        case "outlet" | "sounder" | "camera":
            yield "on", _standing(FALSE, first_ms)
        case "radio hub":
            pass


def _standing(value: int, at_ms: int) -> Steps:
    return Steps(np.array([at_ms], np.int64), np.array([value], np.int8))


def _repeated(column: Column, at: Times) -> Column:
    """Let a level or number be reported again at some instants, as it stands there."""
    if isinstance(column, Pulses):
        return column
    known = at[at > column.times[0]]
    again = column.values[np.searchsorted(column.times, known, side="right") - 1]
    times = np.r_[column.times, known]
    order = np.argsort(times, kind="stable")
    return Steps(times[order], np.r_[column.values, again][order])
