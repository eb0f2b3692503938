"""A record as a plan's ``sign_of_life`` hears it."""

from dataclasses import replace

import numpy as np

from stillwell.plan.kinds import DERIVED_PULSES, OUTSIDE
from stillwell.plan.model import Plan
from stillwell.plan.names import base_signals_of_life
from stillwell.plan.signs import outside_doors
from stillwell.record.columns import FALSE, TRUE, UNKNOWN, Column, Pulses, Record, Steps

NO_LIFE = frozenset({"lost", "battery"})


def heard(plan: Plan, record: Record) -> tuple[Record, tuple[str, ...]]:
    """Return the record with the pulses that ``sign_of_life`` is made of, and their names.

    Opened and closed are the edges of what a contact reported. Parts of which the record holds nothing are left out.
    """
    signals: dict[str, Column] = dict(record.signals)
    names = []
    for name in sorted(base_signals_of_life(plan)):
        part, _, word = name.partition(".")
        if word in NO_LIFE:
            continue
        if name not in signals and word in DERIVED_PULSES:
            edge, of = DERIVED_PULSES[word]
            level = signals.get(f"{part}.{of}")
            if isinstance(level, Steps):
                signals[name] = _edges(level, TRUE if edge == "start" else FALSE)
        if name in signals:
            names.append(name)
    return replace(record, signals=signals), tuple(names)


def _edges(level: Steps, to: int) -> Pulses:
    """Return when a level became ``to`` and was last known to be the other."""
    known = level.values != UNKNOWN
    times, values = level.times[known], level.values[known]
    changed = np.append(np.False_, values[1:] != values[:-1])[: len(times)]
    return Pulses(times[changed & (values == to)])


_WAYS = ("way", "hall", "entrance", "entry", "corridor", "porch", "lobby")


def exits_of(plan: Plan) -> frozenset[str]:
    """Return the parts at the way out: a sign from them may be the last before an outing.

    Contacts on outside doors, and movement detectors in the rooms behind those doors, if such a room is a way through
    or no outside door has a contact.
    """
    contacts = outside_doors(plan)
    behind = {
        room
        for opening in plan.openings.values()
        if opening.kind == "door" and OUTSIDE in opening.rooms
        for room in opening.rooms
        if room in plan.rooms and (not contacts or _is_way(f"{room} {plan.rooms[room].use}"))
    }
    moving = (name for name, part in plan.parts.items() if part.kind == "movement" and part.room in behind)
    return frozenset([*contacts, *moving])


def _is_way(words: str) -> bool:
    return any(each in words.lower().replace("_", " ") for each in _WAYS)
