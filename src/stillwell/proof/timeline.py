"""A world of the proof written out as a record: every report in absolute time, history, heartbeats and all."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from stillwell.engine.operators.limits import Limits
from stillwell.engine.operators.silence import Silence
from stillwell.engine.program import Program
from stillwell.plan.kinds import CAUSED_BY_RESIDENT, DERIVED_PULSES, SIGNALS_OF
from stillwell.plan.model import Plan
from stillwell.plan.names import part_signals
from stillwell.proof.catalogue import AT_REST, FAR
from stillwell.proof.faults import unit_carried
from stillwell.proof.last_signs import Sort
from stillwell.proof.world import World
from stillwell.record.columns import FALSE, TRUE, UNKNOWN, Column, Pulses, Record, Steps
from stillwell.rules.kinds import Kind

OFTEN_MS = 600_000
"""How often an ordinary life is heard, at least; more often where a rule waits for less silence."""

OPEN_FOR_MS = 1000


@dataclass(frozen=True, slots=True)
class Life:
    """Which signals stand for the signs of life of a world, all at once.

    ``before``: they were heard all through the history too. ``after``: life goes on as usual after the onset. ``last``
    stands for the last sign alone, where a table of limits asks what that was.
    """

    signals: tuple[str, ...] = ()
    last: str = ""
    before: bool = False
    after: bool = False


@dataclass(frozen=True, slots=True)
class Stretch:
    """The instants of a record: its start, the onset, its end (excluded)."""

    start: int
    onset: int
    end: int


def timeline(plan: Plan, program: Program, world: World, life: Life, stretch: Stretch) -> Record:
    """Return a record of a world.

    States are reported under their own names, as numbers of their values. Parts without supervision need no
    heartbeat; the others are heard, as ``PART.alive``, until the world has lost them.
    """
    sheet = _Sheet(stretch)
    _at_rest(plan, world, sheet)
    for name, times in world.pulses.items():
        sheet.pulses(name, [stretch.onset + time for time in times])
    for name, level in world.levels.items():
        sheet.forget(name)
        number = unit_carried(plan, name)
        if not (np.isnan(level.before) if number else level.before == UNKNOWN):
            sheet.value(name, stretch.start, level.before, number=number)
        for offset, value in level.changes:
            sheet.value(name, stretch.onset + offset, value, number=number)
    for state, standing in world.states.items():
        for at_ms in (stretch.start, stretch.onset - 1):
            sheet.value(state, at_ms, standing, number=True)
    for part, lit in world.switched.items():
        for at_ms in (stretch.start, stretch.onset - 1):
            sheet.value(f"{part}.on", at_ms, lit, number=False)
    _alive(plan, world, sheet)
    _live(program, world, life, sheet)
    for part in sorted(world.chatter):
        _chatter(plan, program, part, sheet)
    return sheet.record(plan.home.timezone)


@dataclass
class _Sheet:
    """Collects reports; of two in one millisecond the later written counts."""

    stretch: Stretch
    values: dict[str, dict[int, float]] = field(default_factory=dict)
    numbers: set[str] = field(default_factory=set)
    instants: dict[str, set[int]] = field(default_factory=dict)

    def pulses(self, name: str, times: Sequence[int]) -> None:
        self.instants.setdefault(name, set()).update(times)

    def value(self, name: str, at_ms: int, value: float, *, number: bool) -> None:
        self.values.setdefault(name, {})[at_ms] = value
        if number:
            self.numbers.add(name)

    def forget(self, name: str) -> None:
        self.values.pop(name, None)

    def record(self, zone: str) -> Record:
        signals: dict[str, Column] = {}
        start, end = self.stretch.start, self.stretch.end
        for name, instants in self.instants.items():
            signals[name] = Pulses(np.array(sorted(time for time in instants if start <= time < end), np.int64))
        for name, values in self.values.items():
            rows = sorted((time, value) for time, value in values.items() if start <= time < end)
            times = np.array([row[0] for row in rows], np.int64)
            said = np.array([row[1] for row in rows])
            signals[name] = Steps(times, said.astype(np.float64) if name in self.numbers else said.astype(np.int8))
        events = sum(len(column.times) for column in signals.values())
        return Record(zone, (start, end), signals, events=events)


def _at_rest(plan: Plan, world: World, sheet: _Sheet) -> None:
    """Write down that nothing is the matter with anything the world does not speak of."""
    for name, kind in part_signals(plan).items():
        part, _, word = name.partition(".")
        if word in DERIVED_PULSES or word in ("lost", "on") or world.lost.get(part, 0) is None:
            continue
        if kind.kind is Kind.LEVEL:
            sheet.value(name, sheet.stretch.start, TRUE if word == "mains" else FALSE, number=False)
        elif kind.kind is Kind.NUMBER:
            sheet.value(name, sheet.stretch.start, AT_REST.get(kind.unit, 0.0), number=True)


def _alive(plan: Plan, world: World, sheet: _Sheet) -> None:
    """Let every supervised part be heard often enough, up to exactly so long before it is lost."""
    stretch = sheet.stretch
    for name, part in plan.parts.items():
        lost = world.lost.get(name, stretch.end)
        if part.supervision is None or lost is None:
            continue
        last = stretch.onset + lost - part.supervision if name in world.lost else stretch.end
        every = max(1, part.supervision * 3 // 4)
        sheet.pulses(f"{name}.alive", range(last, stretch.start, -every))


def voices(plan: Plan, program: Program, world: World) -> tuple[str, ...]:
    """Return the signals that can stand for a sign of life and are nothing else in a world, the plainest first."""
    own = {*world.pulses, *world.levels}
    found = []
    for kind in ("movement", "pressure", "contact", "vibration"):
        for name, part in plan.parts.items():
            if part.kind != kind or kind not in CAUSED_BY_RESIDENT or name in world.lost or name in world.chatter:
                continue
            for word in SIGNALS_OF[kind]:
                signal = f"{name}.{DERIVED_PULSES[word][1] if word in DERIVED_PULSES else word}"
                if signal in program.sources and signal not in own and signal not in found:
                    found.append(signal)
    return tuple(found)


def _live(program: Program, world: World, life: Life, sheet: _Sheet) -> None:
    stretch = sheet.stretch
    every = min([OFTEN_MS, *(silence // 2 for silence in silences(program))])
    times = [stretch.onset + offset for offset in world.life]
    if life.last:
        _speak(life.last, times, sheet)
        if isinstance(world.last, Sort) and world.last.door and world.life:
            _speak(world.last.door, [max(times) - world.last.door_ago_ms], sheet)
    history = range(min([stretch.onset, *times]) - every, stretch.start, -every) if life.before else ()
    times = [*([] if life.last else times), *history]
    if life.after:
        times += range(stretch.onset + every, stretch.end, every)
    for name in life.signals:
        _speak(name, times, sheet)


def _speak(name: str, times: Sequence[int], sheet: _Sheet) -> None:
    """Write down that a signal gives a sign of life at some instants."""
    if name in sheet.numbers:  # something is used, and stops being used
        rest = sheet.values[name][min(sheet.values[name])]
        for time in times:
            sheet.value(name, time, FAR, number=True)
            sheet.value(name, time + OPEN_FOR_MS, rest, number=True)
    elif name in sheet.values:  # a level: something opens, and is shut again
        for time in sorted(times):
            sheet.value(name, time + OPEN_FOR_MS, FALSE, number=False)
        for time in times:
            sheet.value(name, time, TRUE, number=False)
    else:
        sheet.pulses(name, times)


def _chatter(plan: Plan, program: Program, part: str, sheet: _Sheet) -> None:
    """Let a part report so often that no silence that hears it ever begins."""
    stretch = sheet.stretch
    every = max(1, min([OFTEN_MS, *(silence // 2 for silence in silences(program))]))
    for word, carried in SIGNALS_OF[plan.parts[part].kind].items():
        if carried.kind is Kind.PULSE and word not in DERIVED_PULSES:
            sheet.pulses(f"{part}.{word}", range(stretch.onset, stretch.start, -every))
            sheet.pulses(f"{part}.{word}", range(stretch.onset, stretch.end, every))


def silences(program: Program) -> list[int]:
    """Return the durations of silence that any rule waits for."""
    operators = [node.operator for node in program.nodes]
    plain = {one.duration_ms for one in operators if isinstance(one, Silence)}
    return sorted(plain | {one.shortest_ms for one in operators if isinstance(one, Limits)})
