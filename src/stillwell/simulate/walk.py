"""From stretches of a day to stays in rooms: the semi-Markov walk.

At each move the next room depends on the part of the day and is not the present one (where a new part of the day
begins, it may be: one stays on, to another purpose); how long the stay lasts is
drawn on arrival from the distribution of that part of the day and use, and ends with the part of the day at the
latest.
"""

from bisect import bisect_right
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import accumulate
from math import exp, sqrt
from typing import Final, NamedTuple

import numpy as np

from stillwell.simulate.agenda import Stretch
from stillwell.simulate.draws import long_tailed
from stillwell.simulate.habits import AWAY, HABITS, NIGHTS, Habit, Phase
from stillwell.simulate.house import OUTSIDE, House, Use

_MAIN_ROOM_SHARE: Final = 0.8
_TRIES: Final = 6
_SHORTEST_STAY_MS: Final = 8_000
_BLOCK: Final = 1024
_CROSSING: Final = Habit(Use.PASS, share=0, stay_min=0, stay_spread=0, still_s=60)


class Stay(NamedTuple):
    """Somebody in a room, half-open in time.

    ``came`` tells whether it begins with steps into the room, ``passing`` that the room is only crossed.
    """

    room: str
    start_ms: int
    end_ms: int
    phase: Phase
    still_s: float
    still_spread: float
    asleep: bool
    came: bool
    passing: bool


class Pass(NamedTuple):
    """Somebody going through an opening at an instant."""

    opening: str
    at_ms: int


class Absence(NamedTuple):
    """Nobody of this walk at home, from the last step outside to the first one back; ``phase`` says why."""

    start_ms: int
    end_ms: int
    phase: Phase


@dataclass(frozen=True, slots=True)
class Walk:
    """One person's way through the home, in time order."""

    stays: list[Stay]
    passes: list[Pass]
    absences: list[Absence]


def walk_through(
    house: House, stretches: Iterable[Stretch], rng: np.random.Generator, *, visitor: bool = False
) -> Walk:
    """Walk through the stretches. A visitor comes from outside and leaves again, the resident wakes up at home."""
    walker = _Walker(house, rng, OUTSIDE if visitor else house.rooms_for(Use.SLEEP)[0])
    last = None
    for stretch in stretches:
        walker.spend(stretch)
        last = stretch
    if visitor and last is not None:
        walker.go(OUTSIDE, last)
    return walker.walk


@dataclass(frozen=True, slots=True)
class _Choice:
    """The rooms somebody may go to, what for, and the running sum of the shares."""

    rooms: tuple[str, ...]
    habits: tuple[Habit, ...]
    reach: tuple[float, ...]


class _Walker:
    """Carries where somebody is, and when, while the stays are laid down."""

    def __init__(self, house: House, rng: np.random.Generator, room: str) -> None:
        self.walk = Walk([], [], [])
        self._house, self._rng, self._room = house, rng, room
        self._at_ms = 0
        self._choices = {phase: _choice(house, phase) for phase in HABITS}
        self._factors = _factors(rng)

    def spend(self, stretch: Stretch) -> None:
        """Live through a stretch: out of the home, or from room to room."""
        self._at_ms = max(self._at_ms, stretch.start_ms)
        if stretch.phase in AWAY:
            self._be_away(stretch)
            return
        choice = self._choices[stretch.phase]
        first = True
        while self._at_ms < stretch.end_ms:
            picked = 0 if first and stretch.phase in NIGHTS else self._pick(choice, may_remain=first)
            first = False
            came = self.go(choice.rooms[picked], stretch)
            self._stay(choice.habits[picked], stretch, came=came)

    def _be_away(self, stretch: Stretch) -> None:
        """Put the coat on, be out, come back and take it off."""
        self._linger(stretch)
        self.go(OUTSIDE, stretch)
        if self._at_ms < stretch.end_ms:
            self.walk.absences.append(Absence(self._at_ms, stretch.end_ms, stretch.phase))
        self._at_ms = max(self._at_ms, stretch.end_ms)
        self._linger(stretch)

    def _linger(self, stretch: Stretch) -> None:
        came = self.go(self._house.exit_room, stretch)
        end_ms = self._at_ms + int(self._rng.uniform(20_000, 90_000))
        self._lay(self._room, end_ms, stretch.phase, _CROSSING, came=came)

    def go(self, room: str, stretch: Stretch) -> bool:
        """Walk the shortest way, a few seconds for each room crossed; tell whether there was any way to walk."""
        way = self._house.ways[self._room, room]
        for index, passage in enumerate(way):
            if passage.opening:
                self.walk.passes.append(Pass(passage.opening, self._at_ms))
            if passage.room == OUTSIDE:
                self._at_ms += int(self._rng.uniform(12_000, 30_000))
            elif index < len(way) - 1:
                end_ms = self._at_ms + int(self._rng.uniform(3_000, 9_000))
                self._lay(passage.room, end_ms, stretch.phase, _CROSSING, came=True, passing=True)
        self._room = room
        return bool(way)

    def _pick(self, choice: _Choice, *, may_remain: bool) -> int:
        picked = 0
        for _ in range(_TRIES):
            picked = bisect_right(choice.reach, self._rng.random() * choice.reach[-1])
            if may_remain or choice.rooms[picked] != self._room:
                break
        return picked

    def _stay(self, habit: Habit, stretch: Stretch, *, came: bool) -> None:
        normal, stretched = next(self._factors)
        stay_min = habit.stay_min * exp(habit.stay_spread * normal) * stretched / sqrt(stretch.pace)
        end_ms = self._at_ms + max(int(stay_min * 60_000), _SHORTEST_STAY_MS)
        self._lay(self._room, min(end_ms, stretch.end_ms), stretch.phase, habit, came=came, pace=stretch.pace)

    def _lay(
        self,
        room: str,
        end_ms: int,
        phase: Phase,
        habit: Habit,
        *,
        came: bool,
        passing: bool = False,
        pace: float = 1.0,
    ) -> None:
        if end_ms > self._at_ms:
            still_s = habit.still_s / pace
            self.walk.stays.append(
                Stay(room, self._at_ms, end_ms, phase, still_s, habit.still_spread, habit.asleep, came, passing)
            )
            self._at_ms = end_ms


def _choice(house: House, phase: Phase) -> _Choice:
    """Spread each habit over the rooms of its use: mostly the first, the rest share what is left."""
    rooms, habits, shares = [], [], []
    for habit in HABITS[phase]:
        fitting = house.rooms_for(habit.use)
        if phase is Phase.GUEST_NIGHT and habit.asleep:
            fitting = (house.guest_room,)
        for index, room in enumerate(fitting):
            main = _MAIN_ROOM_SHARE if len(fitting) > 1 else 1.0
            rooms.append(room)
            habits.append(habit)
            shares.append(habit.share * (main if index == 0 else (1 - main) / (len(fitting) - 1)))
    return _Choice(tuple(rooms), tuple(habits), tuple(accumulate(shares)))


def _factors(rng: np.random.Generator) -> Iterator[tuple[float, float]]:
    """Give without end a standard normal draw and a stretching factor (mostly 1), drawn in blocks."""
    while True:
        normals = rng.standard_normal(_BLOCK).tolist()
        yield from zip(normals, long_tailed(rng, np.ones(_BLOCK), 0.0).tolist(), strict=True)
