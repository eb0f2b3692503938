"""Everything that can come to be: instant after instant, from the beginning, with whole sets of ages at a time.

The search is forward reachability with zones, as for timed automata (Alur and Dill 1994, "A theory of timed
automata"; Bengtsson and Yi 2004, "Timed automata: semantics, algorithms and tools"). Every timer here falls due by
itself and is over then, so that ages stay bounded and the search comes to an end. Without ages it is coarser and
much quicker: any timer may then be over at any instant.
"""

from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from enum import Enum, auto
from typing import Final, TypeAlias

from stillwell.engine.operators import count, follow
from stillwell.proof.claims import zones
from stillwell.proof.claims.hours import Hours, Stretch
from stillwell.proof.claims.inputs import Value
from stillwell.proof.claims.moment import Durations, Memories, Moment, Settled
from stillwell.proof.claims.zones import Zone

MOST_INSTANTS: Final = 50_000
MOST_SITUATIONS: Final = 4000
MOST_TIMERS: Final = 10

Key: TypeAlias = tuple[Memories, Durations, int]
"""Memories, durations of the running timers of each, sort of stretch of the clock."""


class TooMuchError(Exception):
    """More would have to be looked at than is allowed; the message says of what."""


class Ages(Enum):
    """How closely the ages of timers are followed.

    ``ANY``: not at all, any timer may be over at any instant. ``LOOSE``: by what lies around all ages ever met in a
    situation; that leaves far fewer to tell apart. ``EXACT``: to the millisecond.
    """

    ANY = auto()
    LOOSE = auto()
    EXACT = auto()


@dataclass(frozen=True, slots=True)
class Step:
    """How one instant came about.

    ``before``: what was remembered. ``over``: which of the timers running before it (``durations``) were over.
    ``moved``: the clock passed an edge. ``sort``: the sort of stretch it then was. ``choice``: what came from outside.
    """

    before: Memories
    durations: tuple[int, ...]
    over: tuple[int, ...]
    moved: bool
    sort: int
    choice: tuple[Value, ...]
    settled: Settled


@dataclass
class Search:
    """One search: through all situations, until what was asked for is met."""

    moment: Moment
    hours: Hours
    choices: Sequence[tuple[Value, ...]]
    ages: Ages
    most_instants: int = MOST_INSTANTS
    _instants: int = field(init=False, default=0)

    def __post_init__(self) -> None:
        self._outcomes: dict[tuple[Key, tuple[int, ...], int, bool], list[tuple[tuple[Value, ...], Settled]]] = {}
        self._seen: dict[Key, list[Zone]] = {}
        self._rows: list[tuple[int, Key, Zone, Step]] = []
        self._waiting: deque[int] = deque()
        self._endless = all(sort.longest_ms is None for sort in self.hours.sorts)

    def path(self) -> tuple[Step, ...] | None:
        """Return a way to what was asked for, one of the fewest instants; None where there is none.

        Raises TooMuchError.
        """
        if any(self._begin()):
            return self._way()
        while self._waiting:
            row = self._waiting.popleft()
            _, key, zone, _ = self._rows[row]
            if zone in self._seen[key] and any(self._go_on(row)):  # else a later one holds all of it
                return self._way()
        return None

    def _way(self) -> tuple[Step, ...]:
        steps, row = [], len(self._rows) - 1
        while row >= 0:
            parent, _, _, step = self._rows[row]
            steps.append(step)
            row = parent
        return tuple(steps[::-1])

    def _begin(self) -> Iterator[bool]:
        """Yield, of each first instant, whether it is what was asked for."""
        for sort, stretch in enumerate(self.hours.sorts):
            for on_edge in (False, True) if stretch.pulses else (False,):
                rung = stretch.pulses if on_edge else frozenset[int]()
                for before in self.moment.beginnings():
                    for choice in self.choices:
                        self._count()
                        settled = self.moment.first(before, choice, stretch.levels, rung)
                        zone = self._first_zone(settled, stretch, on_edge=on_edge)
                        if zone is not None and self._add(
                            -1, zone, Step(before, (), (), on_edge, sort, choice, settled)
                        ):
                            yield settled.found

    def _first_zone(self, settled: Settled, stretch: Stretch, *, on_edge: bool) -> Zone | None:
        """Return the ages at the first instant; timer 1 tells how long ago the clock passed an edge."""
        if self.ages is Ages.ANY:
            return ()
        if on_edge or stretch.longest_ms is None:
            return zones.begun(len(settled.was) + 1)
        inside = zones.younger(zones.unbounded(), 1, stretch.longest_ms - 1)
        inside = inside and zones.older(inside, 1, 1 if stretch.pulses else 0)
        return zones.renewed(inside, (1, *[0] * len(settled.was))) if inside else None

    def _go_on(self, row: int) -> Iterator[bool]:
        """Yield, of each instant that may follow a situation, whether it is what was asked for."""
        _, (memory, timers, sort), zone, _ = self._rows[row]
        stretch = self.hours.sorts[sort]
        durations = tuple(duration for own in timers for duration in own)
        if self.ages is not Ages.ANY and len(durations) > MOST_TIMERS:
            raise TooMuchError(f"more than {MOST_TIMERS} timers may run at once")
        behind = self._behind(memory, timers)
        later = zone if self.ages is Ages.ANY else zones.passed(zone, 1 if self.ages is Ages.EXACT else 0)
        for moved, of_clock in self._clock(later, stretch.shortest_ms, stretch.longest_ms):
            for over, ages in self._over(of_clock, durations, behind, ()):
                for following in stretch.after if moved else (sort,):
                    for choice, settled in self._settled((memory, timers, sort), over, following, moved=moved):
                        self._count()
                        after = self._renewed(ages, settled, moved=moved)
                        if self._add(row, after, Step(memory, durations, over, moved, following, choice, settled)):
                            yield settled.found

    def _clock(self, zone: Zone, shortest_ms: int, longest_ms: int | None) -> Iterator[tuple[bool, Zone]]:
        """Yield whether the clock passes an edge now, with the ages at which it may."""
        if longest_ms is None:
            yield False, zone
        elif self.ages is Ages.ANY:
            yield False, zone
            yield True, zone
        else:
            inside = zones.younger(zone, 1, longest_ms - 1)
            if inside is not None:
                yield False, inside
            on_edge = zones.older(zone, 1, shortest_ms)
            on_edge = None if on_edge is None else zones.younger(on_edge, 1, longest_ms)
            if on_edge is not None:
                yield True, on_edge

    def _behind(self, memory: Memories, timers: Durations) -> list[bool]:
        """Tell for each timer whether the one before it must be over first: pulses that are kept, the oldest first."""
        found: list[bool] = []
        for operator, own, running in zip(self.moment.operators, memory, timers, strict=True):
            pulses = 0
            if isinstance(operator, count.Count | follow.Without):
                pulses = len(running) - (isinstance(operator, count.Count) and own[0])
            found += [0 < place < pulses for place in range(len(running))]
        return found

    def _over(
        self, zone: Zone, durations: Sequence[int], behind: Sequence[bool], over: tuple[int, ...], number: int = 0
    ) -> Iterator[tuple[tuple[int, ...], Zone]]:
        """Yield which timers are over in the instant, with the ages at which it is just those."""
        if number == len(durations):
            yield over, zone
            return
        duration, timer = durations[number], number + 2
        running = zones.younger(zone, timer, duration - 1) if self.ages is not Ages.ANY else zone
        if running is not None and duration > 1:
            yield from self._over(running, durations, behind, over, number + 1)
        ending: Zone | None = zone
        if self.ages is not Ages.ANY:
            ending = zones.older(zone, timer, duration)
            ending = None if ending is None else zones.younger(ending, timer, duration)
        if ending is not None and not behind[number]:
            yield from self._over(ending, durations, behind, (*over, number), number + 1)

    def _settled(
        self, key: Key, over: tuple[int, ...], following: int, *, moved: bool
    ) -> list[tuple[tuple[Value, ...], Settled]]:
        """Return everything that may come of a situation in one instant, each once, with what brings it about."""
        asked = (key, over, following, moved)
        if asked not in self._outcomes:
            memory, timers, _ = key
            stretch = self.hours.sorts[following]
            running, number = [], 0
            for own in timers:
                running.append(tuple((duration, number + place in over) for place, duration in enumerate(own)))
                number += len(own)
            rung = stretch.pulses if moved else frozenset[int]()
            found: dict[Settled, tuple[Value, ...]] = {}
            for choice in self.choices:
                self._count()
                found.setdefault(self.moment.later(memory, running, choice, stretch.levels, rung), choice)
            self._outcomes[asked] = [(choice, settled) for settled, choice in found.items()]
        return self._outcomes[asked]

    def _renewed(self, zone: Zone, settled: Settled, *, moved: bool) -> Zone:
        if self.ages is Ages.ANY:
            return ()
        again = moved or self._endless
        return zones.renewed(zone, (0 if again else 1, *(number + 2 if number >= 0 else 0 for number in settled.was)))

    def _add(self, parent: int, zone: Zone, step: Step) -> bool:
        """Keep a situation unless all of it has been met already; tell whether it is new."""
        key = (step.settled.memory, step.settled.timers, step.sort)
        met = self._seen.setdefault(key, [])
        if not step.settled.found and any(zones.within(zone, other) for other in met):
            return False
        if self.ages is Ages.LOOSE:
            zone = zones.around(met[0], zone) if met else zone
            met[:] = [zone]
        else:
            met[:] = [other for other in met if not zones.within(other, zone)]
            met.append(zone)
        if len(self._rows) == MOST_SITUATIONS:
            raise TooMuchError(f"more than {MOST_SITUATIONS} situations may come to be")
        self._rows.append((parent, key, zone, step))
        self._waiting.append(len(self._rows) - 1)
        return True

    def _count(self) -> None:
        self._instants += 1
        if self._instants > self.most_instants:
            raise TooMuchError(f"more than {self.most_instants} instants would have to be looked at")
