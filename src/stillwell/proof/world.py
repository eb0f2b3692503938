"""One way things may go around an onset: what every part reports before it and after it, and how the home stands.

A world is written relative to the onset. The same world at many onsets is many lanes; each lane is decided by the
engine's own columns, so that the proof knows no other meaning of a rule than the engine's.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from stillwell.alarms.call_list import milliseconds
from stillwell.engine.axis import Axis, at, runs, union
from stillwell.engine.columns import Columns, Reports
from stillwell.engine.lanes import depth, slice_pulses, slice_steps
from stillwell.engine.operators import count, edge, follow, limits, logic, lost, reported, settings, silence
from stillwell.engine.program import Program, RuleNode
from stillwell.proof.last_signs import Choices, Last, LastSigns, Sort
from stillwell.proof.sign_columns import Lanes, sign_columns, spread, turned_before
from stillwell.record.columns import FALSE, TRUE, UNKNOWN, Column, Pulses, Steps, Times
from stillwell.replay.chain import ASK_AGAIN_S

NEVER = int(np.iinfo(np.int64).max)
AS_CLOCK = -1
"""A state stands as the clock's rules last left it."""
DAY_MS = 86_400_000
ASK_AGAIN_MS = milliseconds(ASK_AGAIN_S)

NO_PULSE = (0, bool)

Changes: TypeAlias = tuple[tuple[int, float], ...]
"""(milliseconds after the onset, value reported), in order; a negative offset lies before the onset."""


@dataclass(frozen=True, slots=True)
class Level:
    """What a level or number is long before the onset, and what is reported around it."""

    before: float
    changes: Changes = ()


@dataclass(frozen=True)
class World:
    """One way things may go.

    ``pulses`` maps pulse signals to offsets of their reports, ``levels`` level and number signals to what they do,
    ``life`` holds the offsets of signs of life as a whole, ``lost`` the parts that are lost (from long before, or
    from an offset on), ``states`` and ``switched`` how states and switched parts stand before the onset. A part in
    ``chatter`` keeps reporting pulses so often that no silence that hears it ever begins, every count that hears it is
    full, what waits for it in vain never does, and a state that it sets stays so; it gives no other pulse.
    What is not named reports nothing, is off, and is not lost. ``told`` says in words what sets this world apart.
    Where a table of limits makes a difference ``last`` says which sign of life is the last: it is chosen for each
    onset, and ``life`` holds what a late part may report until then; or it is of one kind, and the last of ``life``.
    All offsets count from ``after_ms`` after the onset, until when what the ``late`` parts say comes in.
    """

    told: str = ""
    pulses: Mapping[str, tuple[int, ...]] = field(default_factory=dict)
    levels: Mapping[str, Level] = field(default_factory=dict)
    life: tuple[int, ...] = ()
    lost: Mapping[str, int | None] = field(default_factory=dict)
    states: Mapping[str, int] = field(default_factory=dict)
    switched: Mapping[str, int] = field(default_factory=dict)
    chatter: frozenset[str] = frozenset()
    last: Last | Sort | None = None
    late: frozenset[str] = frozenset()
    after_ms: int = 0

    def key(self) -> tuple[object, ...]:
        """Return what decides the future: equal keys, equal notice times."""
        parts = (self.pulses, self.levels, self.lost, self.states, self.switched)
        return (
            self.life,
            self.chatter,
            self.last,
            self.late,
            self.after_ms,
            *(tuple(sorted(part.items(), key=lambda item: item[0])) for part in parts),
        )

    def seen_by(self, stage: "Stage") -> "World":
        """Return the world as far as a stage's alarms can see it; what they cannot see decides nothing for them."""
        names, parts = stage.speaks_of
        return World(
            self.told,
            {name: times for name, times in self.pulses.items() if name in names},
            {name: level for name, level in self.levels.items() if name in names},
            self.life if stage.tails & set(stage.nodes) else (),
            {part: since for part, since in self.lost.items() if part in parts},
            {name: value for name, value in self.states.items() if name in names},
            {part: value for part, value in self.switched.items() if part in parts},
            self.chatter & parts,
            self.last if stage.tails & set(stage.nodes) else None,
            self.late,
            self.after_ms,
        )

    def offsets(self) -> set[int]:
        """Return every offset at which something is reported."""
        found = {0, *self.life}
        for times in self.pulses.values():
            found.update(times)
        for level in self.levels.values():
            found.update(offset for offset, _ in level.changes)
        found.update(since for since in self.lost.values() if since is not None)
        return found


class Stage:
    """A program and the alarms asked about, ready to be decided in any world at any onset.

    ``tails`` are pulse nodes that stand for signs of life as a whole, ``span`` the onsets that may be asked for,
    ``set_by_people`` the states that somebody sets from outside the rules, ``automatic`` those that the home sets
    by the clock and by what it sees. ``last_signs`` are the candidates for the last sign of life, where a table of
    limits makes a difference to any alarm for the hazard.
    """

    def __init__(
        self,
        program: Program,
        alarms: Sequence[RuleNode],
        tails: frozenset[int],
        span: tuple[int, int],
        set_by_people: frozenset[str] = frozenset(),
        automatic: frozenset[str] = frozenset(),
        last_signs: LastSigns | None = None,
    ) -> None:
        self.program = program
        self.last_signs = last_signs
        self.free = last_signs.free if last_signs is not None else frozenset[int]()
        self.set_by_people = set_by_people
        self.automatic = automatic
        self.alarms = tuple(alarms)
        self.tails = tails
        self.targets = [node for rule in alarms for node in (rule.fires, rule.condition)]
        self.nodes = program.cone(self.targets, tails | self.free)
        self.clockwork = {node for node in self.nodes if is_clockwork(program, node, set_by_people)}
        self.memory_ms = max((depth(program, target) for target in self.targets), default=0) + 1
        self.span = span
        self._calendars: dict[tuple[int, int], Columns] = {}
        self.speaks_of = self._speaks_of()

    def _speaks_of(self) -> tuple[frozenset[str], frozenset[str]]:
        """Return the signals and states, and the parts, that the alarms listen to, also through a tail."""
        names, parts = set[str](), set[str]()
        for node in self.nodes:
            match self.program.nodes[node].operator:
                case reported.PulseReport(name) | reported.LevelReport(name) | reported.NumberReport(name):
                    names.add(name)
                case settings.State(name):
                    names.add(name)
                case settings.Switched(part) | lost.Lost(part):
                    parts.add(part)
                case _:
                    pass
        for below in self.program.cone([node for node in self.nodes if node in self.tails]):
            match self.program.nodes[below].operator:
                case reported.PulseReport(name) | reported.LevelReport(name) | reported.NumberReport(name):
                    parts.add(name.partition(".")[0])
                case _:
                    pass
        parts |= {name.partition(".")[0] for name in names}
        return frozenset(names), frozenset(parts)

    def calendar(self, low: int, high: int) -> Columns:
        """Return columns of real time, for what the clock alone decides."""
        span = (self.span[0] - 60 * DAY_MS, max(high, self.span[1] + 60 * DAY_MS))
        if low < span[0]:
            span = (low, span[1])
        if span not in self._calendars:
            self._calendars[span] = Columns(self.program, Axis.of_span(*span), Reports({}))
        return self._calendars[span]

    def lanes(self, world: World, onsets: Times, horizon_ms: int) -> tuple[Columns, Times]:
        """Return the columns of a world at the given onsets, and how far each lane's time is shifted."""
        reach = max((-offset for offset in world.offsets()), default=0)
        if self.last_signs is not None and isinstance(world.last, Last):
            reach = max(reach, self.last_signs.longest_ms)
        memory = self.memory_ms + max(reach, 0) + 1
        low, high = onsets - memory, onsets + horizon_ms
        pitch = 2 * memory + horizon_ms + 2
        shift = np.arange(len(onsets), dtype=np.int64) * pitch + memory - onsets
        axis = Axis(low + shift, high + shift, onsets + shift)
        given, initial, signals = self._given(world, onsets, low, high, shift)
        levels = {name: ((-memory, one.before), *one.changes) for name, one in world.levels.items()}
        past = turned_before(self.program, self.nodes, levels, axis.live)
        return Columns(self.program, axis, Reports(signals), given, initial, past=past), shift

    def _given(
        self, world: World, onsets: Times, low: Times, high: Times, shift: Times
    ) -> tuple[dict[int, Column], dict[int, Any], dict[str, Column]]:
        given: dict[int, Column] = {}
        initial: dict[int, Any] = {}
        signals: dict[str, Column] = {}
        zero = onsets + shift
        clock = self.calendar(int(low.min()), int(high.max())) if len(onsets) else None
        lanes = Lanes(onsets, low, shift)
        given |= sign_columns(self.last_signs, self.nodes, self.tails, world.life, world.last, lanes)
        for node in self.nodes:
            operator = self.program.nodes[node].operator
            if node in given:
                continue
            drowned = self._drowned(node, world.chatter) if world.chatter else None
            if drowned == NO_PULSE:
                given[node] = Pulses(low[:0])
                continue
            if drowned is not None:
                given[node] = Steps(low + shift, np.full(len(low), *drowned))
                continue
            if node in self.clockwork:
                assert clock is not None
                column = clock.column(node)
                if isinstance(column, Pulses):
                    # before the onset the world says how states stand, not a rule that the clock fires
                    since = onsets if isinstance(operator, edge.Fire) else low
                    given[node] = slice_pulses(column.times, since, high, shift)
                else:
                    given[node] = slice_steps(column, low, high, shift)
                continue
            match operator:
                case lost.Lost(part):
                    given[node] = _lost(zero, low + shift, world.lost.get(part, NEVER))
                case reported.PulseReport(name):
                    signals[name] = Pulses(spread(zero, world.pulses.get(name, ())))
                case reported.LevelReport(name):
                    level = world.levels.get(name, Level(FALSE))
                    initial[node], signals[name] = level.before, _steps(zero, level, np.int8)
                case reported.NumberReport(name):
                    level = world.levels.get(name, Level(np.nan))
                    initial[node], signals[name] = level.before, _steps(zero, level, np.float64)
                case settings.State(name):
                    initial[node] = self.standing(node, world.states.get(name, operator.initial), onsets)
                case settings.Switched(part):
                    initial[node] = world.switched.get(part, UNKNOWN)
                case _:
                    pass
        return given, initial, signals

    def choices(self, last: Last, onsets: Times) -> Choices | None:
        """Return the candidates for the last sign at some onsets."""
        assert self.last_signs is not None
        return self.last_signs.choices(last, int(onsets.min()), int(onsets.max()))

    def standing(self, node: int, value: int, onsets: Times) -> NDArray[np.float64]:
        """Return how a state stands just before each onset, if something that happened had set it to ``value``.

        What the clock's rules set last stands where nothing can have happened since: a rule that acts in some hours
        only has not acted outside of them.
        """
        operator, rules = self.program.nodes[node].operator, self.program.nodes[node].children
        assert isinstance(operator, settings.State)
        set_to = dict(zip(rules, operator.set_to, strict=True))
        by_clock = {rule: to for rule, to in set_to.items() if rule in self.clockwork}
        if operator.name not in self.automatic or not by_clock:
            return np.full(len(onsets), float(value))
        clock = self.calendar(int(onsets.min()), int(onsets.max()))
        fires = [clock.pulses(rule) for rule in by_clock]
        alone = replace(operator, set_to=tuple(by_clock.values()))
        steps = settings.state_column(alone, clock.axis, operator.initial, None, fires)
        found: NDArray[np.float64] = at(steps, onsets - 1)
        times = np.append(clock.axis.starts - 1, union(fires).times)
        last = times[np.searchsorted(times, onsets - 1, "right") - 1]
        for rule, to in set_to.items():
            if to == value and rule not in by_clock:
                found = np.where(self._may_have_acted(clock, rule, last, onsets - 1), float(value), found)
        return found

    def _may_have_acted(self, clock: Columns, rule: int, since: Times, until: Times) -> NDArray[np.bool_]:
        """Tell whether the hours of a rule, where it has any, let it act between two instants."""
        (condition,) = self.program.nodes[rule].children
        operator, parts = self.program.nodes[condition].operator, self.program.nodes[condition].children
        hours = [part for part in parts if part in self.clockwork and not self.program.is_pulse(part)]
        if not hours or not isinstance(operator, logic.PulseWhile | logic.AllOf):
            return np.ones(len(since), bool)
        starts, ends = runs(clock.axis, logic.all_column(clock.axis, [clock.steps(part) for part in hours]), TRUE)
        last = np.searchsorted(starts, until, "right") - 1
        padded: NDArray[np.bool_] = (last >= 0) & (np.append(ends, NEVER)[last] > since)
        return padded

    def at_onset(self, world: World, onset: int) -> World:
        """Return the world with every state, and the last sign, as it is at one onset."""
        world = self._with_sign(world, onset)
        states = dict(world.states)
        for node in self.nodes:
            operator = self.program.nodes[node].operator
            if isinstance(operator, settings.State) and operator.name in states:
                here = self.standing(node, states[operator.name], np.array([onset], np.int64))
                states[operator.name] = int(here[0])
        return replace(world, states=states)

    def _with_sign(self, world: World, onset: int) -> World:
        here = np.array([onset], np.int64)
        chosen = self.choices(world.last, here) if isinstance(world.last, Last) else None
        if chosen is None:
            return world
        assert isinstance(world.last, Last)
        (sign,), (kind,) = chosen.signs(world.last.slot, here)
        offset = int(sign) - onset
        life = tuple(sorted({*(one for one in world.life if one < offset), offset}))
        return replace(world, life=life, last=chosen.kinds[kind])

    def _drowned(self, node: int, parts: frozenset[str]) -> tuple[float, type] | None:
        """Return the value, and its type, that parts which report over and over hold a node at; None: at none.

        ``NO_PULSE``: they keep it from ever giving a pulse.
        """
        operator, children = self.program.nodes[node].operator, self.program.nodes[node].children
        match operator:
            case silence.Silence() if self._hears(children[0], parts):
                return FALSE, np.int8
            case limits.Limits() if any(self._hears(child, parts) for child in children[: operator.sorts]):
                return FALSE, np.int8
            case count.Count() if self._hears(children[0], parts):
                return TRUE, np.int8
            case follow.Without() if self._hears(children[1], parts):
                return NO_PULSE
            case settings.State():
                rules = zip((self.program.nodes[child].children[0] for child in children), operator.set_to, strict=True)
                held = [value for condition, value in rules if self._hears(condition, parts)]
                return (held[-1], np.float64) if held else None
            case _:
                return None

    def _hears(self, node: int, parts: frozenset[str]) -> bool:
        """Tell whether a node is the reports of one of the parts, joined with others or not."""
        waiting = [node]
        while waiting:
            one = self.program.nodes[waiting.pop()]
            match one.operator:
                case reported.PulseReport(name):
                    if name.partition(".")[0] in parts:
                        return True
                case logic.AnyPulse():
                    waiting += one.children
                case _:
                    pass
        return False

    def raised(self, world: World, onsets: Times, horizon_ms: int) -> list[Times]:
        """Return for each alarm when it is first raised, at the onset or later, in each lane; ``NEVER`` where not.

        An alarm that stood before the onset may have been answered at that very moment: it counts from when it asks
        again, if it still stands then.
        """
        columns, shift = self.lanes(world, onsets, horizon_ms)
        axis = columns.axis
        found = []
        for rule in self.alarms:
            times = columns.pulses(rule.fires).times
            first = np.searchsorted(times, axis.live)
            raised = np.append(times, NEVER)[first]
            within = raised < axis.ends
            raised = np.where(within, raised - shift, NEVER)
            condition = columns.column(rule.condition)
            if isinstance(condition, Steps):
                asks = np.where(_stands(condition, axis, ASK_AGAIN_MS), onsets + ASK_AGAIN_MS, NEVER)
                raised = np.minimum(raised, asks)
            found.append(raised)
        return found


def _stands(condition: Steps, axis: Axis, for_ms: int) -> NDArray[np.bool_]:
    """Tell where a condition held before the onset, and is not known to end until so long after it."""
    known = condition.values != UNKNOWN
    times, values = np.append(-NEVER, condition.times[known]), np.append(FALSE, condition.values[known])
    last = np.searchsorted(times, axis.live) - 1
    held = (times[last] >= axis.starts) & (values[last] == TRUE)
    ends = times[values == FALSE]
    first = np.append(ends, NEVER)[np.searchsorted(ends, axis.live)]
    return np.asarray(held & (first >= axis.live + for_ms))


def is_clockwork(program: Program, node: int, set_by_people: frozenset[str] = frozenset()) -> bool:
    """Tell whether the clock alone decides a node: no part's report feeds it, and no state that people set."""
    for below in program.cone([node]):
        match program.nodes[below].operator:
            case reported.PulseReport() | reported.LevelReport() | reported.NumberReport() | lost.Lost():
                return False
            case settings.State(name) if name in set_by_people:
                return False
            case _:
                pass
    return True


def _steps(zero: Times, level: Level, dtype: Any) -> Steps:
    offsets = tuple(offset for offset, _ in level.changes)
    values = np.array([value for _, value in level.changes], dtype)
    return Steps(spread(zero, offsets), np.tile(values, len(zero)))


def _lost(zero: Times, starts: Times, since: int | None) -> Steps:
    """Return the level: ``None`` lost from long before, an offset: lost from then on, ``NEVER``: not at all."""
    if since is None or since == NEVER:
        return Steps(starts, np.full(len(starts), TRUE if since is None else FALSE, np.int8))
    times = np.stack([starts, zero + since], axis=1).ravel()
    return Steps(times, np.tile(np.array([FALSE, TRUE], np.int8), len(zero)))
