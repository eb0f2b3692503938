"""From a way through situations to a timeline in real time, confirmed by the engine.

A way fixes which timers are over at which instant. When each instant is, follows from that: it is the earliest
solution of bounds on the differences between instants (longest paths, after Bellman 1958 and Ford 1956).
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Final, TypeAlias

from stillwell.engine.operators import lost, settings
from stillwell.engine.program import Program
from stillwell.proof.claims.hours import Hours
from stillwell.proof.claims.inputs import Cut, Input, Value
from stillwell.proof.claims.question import Question
from stillwell.proof.claims.reach import Step
from stillwell.proof.claims.reports import Said, said
from stillwell.proof.claims.witness import Row, Witness
from stillwell.record.columns import TRUE

MOST_STARTS: Final = 60
"""So many real stretches of the clock are tried for the beginning of a way."""

MOST_LONGEST: Final = 5
"""So many of the longest stretches that fit are tried for a way that was found without the clock."""

MOST_HEARTBEATS: Final = 3000
"""So many heartbeats of one part are written down at most."""

MOST_PRUNED: Final = 40
"""A timeline of more events is left as it is; a shorter one loses every event it can do without."""

Bound: TypeAlias = tuple[int, int, int]
"""(a, b, least): instant b is at least so much later than instant a."""

Limits: TypeAlias = list[tuple[int, int]]
"""The earliest and the latest that each instant may be."""

_NO_END: Final = 2**60


@dataclass(frozen=True)
class Teller:
    """What is needed to tell a way as a story."""

    program: Program
    question: Question
    cut: Cut
    hours: Hours
    stateful: tuple[int, ...]

    def witness(self, steps: Sequence[Step]) -> Witness | None:
        """Return the timeline of a way, as the engine confirms it; None where it does not."""
        return self._confirmed(steps, _starts(self.hours, steps))

    def witness_in(self, steps: Sequence[Step], hours: Hours) -> Witness | None:
        """Return the timeline of a way that was found without the clock, if there are hours in which it can be so."""
        wanted = [
            one.node
            for number, one in enumerate(self.cut.inputs)
            if one.node in hours.sorts[0].levels and any(step.choice[number] == TRUE for step in steps)
        ]
        fit = [
            (start, end)
            for start, end, sort in hours.real
            if all(hours.sorts[sort].levels[node] == TRUE for node in wanted)
        ]
        fit.sort(key=lambda stretch: stretch[0] - stretch[1])
        return self._confirmed(steps, ([(start, _NO_END)] * len(steps) for start, _ in fit[:MOST_LONGEST]))

    def _confirmed(self, steps: Sequence[Step], starts: Iterable[Limits]) -> Witness | None:
        bounds = _bounds(steps)
        for limits in starts:
            times = _instants(bounds, limits)
            if times is None:
                continue
            plain = self._rows(steps, times)
            for rows in (plain, self._kept_alive(plain, times)):
                found = self.shown_by(rows, times[0], times[-1])
                if found is not None:
                    return found
        return None

    def shown_by(self, rows: list[Row], start_ms: int, until_ms: int) -> Witness | None:
        """Return the timeline that rows make, if the engine comes to what is asked for by then."""
        at_ms = self.question.first_seen(self.program, start_ms, rows, until_ms)
        return None if at_ms is None else self._shortened(start_ms, rows, at_ms)

    def _shortened(self, start_ms: int, rows: list[Row], at_ms: int) -> Witness:
        """Leave out every event that it can do without, the latest first."""
        rows = [row for row in rows if row[0] <= at_ms]
        for place in range(len(rows) - 1, -1, -1) if len(rows) <= MOST_PRUNED else ():
            fewer = rows[:place] + rows[place + 1 :]
            sooner = self.question.first_seen(self.program, start_ms, fewer, at_ms)
            if sooner is not None:
                rows, at_ms = [row for row in fewer if row[0] <= sooner], sooner
        events = tuple((time - start_ms, name, value) for time, name, value in rows)
        return Witness(start_ms, events, at_ms - start_ms)

    def _rows(self, steps: Sequence[Step], times: Sequence[int]) -> list[Row]:
        """Return what parts report so that the inputs are what they are on the way."""
        rows: list[Row] = []
        last: dict[str, float | None] = {}
        for step, now in zip(steps, times, strict=True):
            acts = list(zip(self.cut.inputs, step.choice, strict=True))
            gone = {one.part for one, value in acts if one.sort == "loss" and value == TRUE}
            for one, value in acts:
                silent = one.sort != "loss" and one.part in gone
                for name, reported, lasts in self._said(one, value, step):
                    if not silent and not (lasts and last.get(name) == reported):
                        rows.append((now, name, reported))
                    last[name] = reported
        return rows

    def _said(self, one: Input, value: Value, step: Step) -> Iterator[Said]:
        match one.sort:
            case "pulse" | "level" | "number":
                yield from said(self.program, one.node, value)
            case "loss":
                yield f"{one.part}.link_lost", 1 if value == TRUE else None, True
            case "report" if value is not None:
                by_hand = len(one.options) > 2
                stands = value if by_hand else step.before[self.stateful.index(one.node)][1]
                yield f"{one.part}.on", 1 if stands == TRUE else 0, False
            case "set" if value is not None:
                operator = self.program.nodes[one.node].operator
                assert isinstance(operator, settings.State)
                yield operator.name, value, False
            case _:
                pass

    def _kept_alive(self, rows: list[Row], times: Sequence[int]) -> list[Row]:
        """Return the rows with the heartbeats of every part that would else count as lost."""
        found = list(rows)
        for node in self.program.cone(self.question.nodes):
            operator = self.program.nodes[node].operator
            if isinstance(operator, lost.Lost) and operator.supervision_ms is not None:
                beats = _heartbeats(operator.part, operator.supervision_ms, rows, (times[0], times[-1]))
                found += islice(beats, MOST_HEARTBEATS)
        return sorted(found, key=lambda row: row[0])


def _heartbeats(part: str, supervision_ms: int, rows: Sequence[Row], span: tuple[int, int]) -> Iterator[Row]:
    pitch = max(1, supervision_ms - 1)
    own = [(time, name, value) for time, name, value in rows if name.partition(".")[0] == part]
    heard, there = span[0], True
    for time, name, value in (*own, (span[1] + 1, "", None)):
        if there:
            for beat in range(heard + pitch, time, pitch):
                yield beat, f"{part}.alive", 1
        heard = time
        there = not (name.endswith(".link_lost") and value == 1)


def _bounds(steps: Sequence[Step]) -> list[Bound]:
    """Return what the timers say of the differences between instants."""
    found: list[Bound] = []
    began: list[int] = []
    for now, step in enumerate(steps):
        if now:
            found.append((now - 1, now, 1))
        for number, duration in enumerate(step.durations):
            since = began[number]
            over = number in step.over
            found.append((now, since, -duration if over else 1 - duration))
            if over:
                found.append((since, now, duration))
        began = [began[number] if number >= 0 else now for number in step.settled.was]
    return found


def _starts(hours: Hours, steps: Sequence[Step]) -> Iterator[Limits]:
    """Yield what the clock says of each instant, for each real stretch in which the way may begin."""
    passed = [steps[0].sort, *(step.sort for step in steps[1:] if step.moved)]
    found = 0
    for begin in range(len(hours.real) - len(passed) + 1):
        real = hours.real[begin : begin + len(passed)]
        if [sort for _, _, sort in real] != passed:
            continue
        endless = hours.sorts[passed[-1]].longest_ms is None
        yield list(_limits(real, steps, rung=bool(hours.sorts[passed[0]].pulses), endless=endless))
        found += 1
        if found == MOST_STARTS:
            return


def _limits(
    real: Sequence[tuple[int, int, int]], steps: Sequence[Step], *, rung: bool, endless: bool
) -> Iterator[tuple[int, int]]:
    place = 0
    for number, step in enumerate(steps):
        place += bool(number and step.moved)
        start, end, _ = real[place]
        if step.moved:
            yield start, start
        else:
            yield start + (1 if rung and not place else 0), _NO_END if endless else end - 1


def _instants(bounds: Sequence[Bound], limits: Limits) -> list[int] | None:
    """Return instants that keep all bounds, None where there are none: the last as early as can be, the others late."""
    times = [earliest for earliest, _ in limits]
    if not _settled(bounds, times, later=True):
        return None
    if any(time > latest for time, (_, latest) in zip(times, limits, strict=True)):
        return None
    last = times[-1]
    times = [min(latest, last) for _, latest in limits]
    times[-1] = last
    _settled(bounds, times, later=False)
    return times


def _settled(bounds: Sequence[Bound], times: list[int], *, later: bool) -> bool:
    """Move instants, all later or all earlier, until they keep the bounds; tell whether they ever do."""
    for _ in range(len(times) + 1):
        changed = False
        for a, b, least in bounds:
            if times[a] + least > times[b]:
                if later:
                    times[b] = times[a] + least
                else:
                    times[a] = times[b] - least
                changed = True
        if not changed:
            return True
    return False
