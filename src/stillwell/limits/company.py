"""Whether more than one person moves about in the home, as far as movement can tell.

Nobody walks from a room through another into a third within three seconds. Where movement is reported from two rooms
with a room between them within that time, somebody else (or an animal) moves about, or the plan's doors are wrong.
Two who sit or walk together look like one; so does a caller who stays in the resident's room. A visit is therefore
found only now and then, two residents are found by their many days.
"""

from collections.abc import Collection
from dataclasses import dataclass
from typing import Final

import numpy as np

from stillwell.limits.trust import changes
from stillwell.plan.kinds import OUTSIDE
from stillwell.plan.model import Plan
from stillwell.record.columns import Record, Times
from stillwell.record.presence import DAY_MS, HOUR_MS
from stillwell.replay.rates import poisson_interval

WITHIN_MS: Final = 3000
DOORS_BETWEEN: Final = 2
VISIT_WITHIN_MS: Final = 3 * HOUR_MS
"""Two impossible walks so close together are one visit; a lone one may be a telegram that came late."""
SHARED_FROM_PER_DAY: Final = 0.2
"""From how many impossible walks a day more than one person lives there. Invented homes: one resident with callers
has 0.03 a day, two residents 1.2 to 1.6."""


@dataclass(frozen=True, slots=True)
class Company:
    """What movement tells of a second person.

    ``pairs`` is how many pairs of rooms with detectors lie far enough apart to tell (0: nothing can be told),
    ``walks`` when one person could not have walked, ``days`` the days looked at, ``visits`` stretches with several
    such walks. ``shared``: so many that more than one person lives there.
    """

    pairs: int
    walks: tuple[int, ...]
    days: float
    visits: tuple[tuple[int, int], ...]
    shared: bool


def company(plan: Plan, record: Record, life: Collection[str], spans: Collection[tuple[int, int]]) -> Company:
    """Look for movement in two rooms far apart at once, within ``spans``, among the signals ``life``."""
    apart = rooms_apart(plan)
    room_of = {
        name: part.room
        for name in life
        if (part := plan.parts.get(name.partition(".")[0])) is not None and part.kind == "movement" and part.room
    }
    rooms = sorted({room for room in room_of.values() if room})
    pairs = sum((one, other) in apart for one in rooms for other in rooms if one < other)
    times, of = _movements(record, {name: rooms.index(room) for name, room in room_of.items() if room})
    far = np.array([[(one, other) in apart for other in rooms] for one in rooms], np.bool_).reshape(len(rooms), -1)
    walks = _impossible(times, of, far)
    inside = np.zeros(len(walks), np.bool_)
    for start, end in spans:
        inside |= (walks >= start) & (walks < end)
    walks = walks[inside]
    days = sum(end - start for start, end in spans) / DAY_MS
    at_least = poisson_interval(len(walks))[0]
    shared = days > 0 and at_least / days > SHARED_FROM_PER_DAY
    return Company(pairs, tuple(walks.tolist()), days, () if shared else _visits(walks), shared)


def rooms_apart(plan: Plan) -> frozenset[tuple[str, str]]:
    """Return the pairs of rooms (both ways round) between which one must pass at least one other room."""
    next_to: dict[str, set[str]] = {}
    for opening in plan.openings.values():
        one, other = opening.rooms
        if opening.kind == "door" and OUTSIDE not in opening.rooms:
            next_to.setdefault(one, set()).add(other)
            next_to.setdefault(other, set()).add(one)
    found = set()
    for start in next_to:
        doors = {start: 0}
        waiting = [start]
        for room in waiting:
            for following in sorted(next_to[room] - doors.keys()):
                doors[following] = doors[room] + 1
                waiting.append(following)
        found |= {(start, room) for room, count in doors.items() if count >= DOORS_BETWEEN}
    return frozenset(found)


def _movements(record: Record, rooms: dict[str, int]) -> tuple[Times, Times]:
    """Return the instants of movement, sorted, and the number of the room of each."""
    names = [name for name in sorted(rooms) if name in record.signals]
    times = [changes(record.signals[name]) for name in names]
    every = np.concatenate([np.empty(0, np.int64), *times])
    of = np.repeat(np.array([rooms[name] for name in names], np.int64), [len(each) for each in times])
    order = np.argsort(every, kind="stable")
    return every[order], of[order]


def _impossible(times: Times, of: Times, far: np.ndarray[tuple[int, int], np.dtype[np.bool_]]) -> Times:
    """Return when movement came from a room far from where it had come from at most three seconds before."""
    found = [np.empty(0, np.int64)]
    step = 1
    while step < len(times):
        close = np.flatnonzero(times[step:] - times[:-step] <= WITHIN_MS)
        if not len(close):
            break
        found.append(times[close + step][far[of[close], of[close + step]]])
        step += 1
    return np.unique(np.concatenate(found))


def _visits(walks: Times) -> tuple[tuple[int, int], ...]:
    if len(walks) < 2:
        return ()
    breaks = np.flatnonzero(np.diff(walks) > VISIT_WITHIN_MS)
    firsts, lasts = np.append(0, breaks + 1), np.append(breaks, len(walks) - 1)
    return tuple(
        (int(walks[first]), int(walks[last]) + 1)
        for first, last in zip(firsts.tolist(), lasts.tolist(), strict=True)
        if last > first
    )
