"""What may have been before the onset: the finite set of histories that the worst case needs.

A future depends on the past only through the age of each timer and the states that hold. A timer has just begun, is
just short of its end, or has long run out: each signal that matters by itself is put through these. A state that the
home sets by itself takes every value; what a person sets on purpose is kept apart, so that "only if you remember" is
seen as what it is.
"""

from collections.abc import Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from itertools import product
from typing import TypeAlias

from stillwell.engine.operators import count, edge, follow, held, limits, reported, settings, silence
from stillwell.plan.kinds import SIGNALS_OF
from stillwell.plan.model import Aid, Alarm, Plan
from stillwell.plan.names import part_signals_in
from stillwell.problem import refuse
from stillwell.proof.catalogue import AT_REST, FAR, Onset
from stillwell.proof.last_signs import Last, signals_of
from stillwell.proof.turns import turns
from stillwell.proof.world import AS_CLOCK, Level, Stage, World
from stillwell.record.columns import FALSE, TRUE
from stillwell.rules.formula import SetState

MOST_WORLDS = 1500
Timer: TypeAlias = silence.Silence | count.Count | follow.Then | follow.Without | held.Held
BY_HAND = frozenset({"push button", "wearable call button"})


@dataclass(frozen=True)
class Choice:
    """What a person has set on purpose: states by name and number; empty where the alarm depends on none."""

    states: tuple[tuple[str, int], ...] = ()


def worlds(plan: Plan, stage: Stage, onset: Onset, silenced: frozenset[str]) -> dict[Choice, tuple[World, ...]]:
    """Return the worlds in which an onset must be decided, by what a person has set.

    Raises Refusal where an alarm depends on so many signals in their own right that the histories cannot be counted
    out.
    """
    program = stage.program
    options = [_options(plan, stage, name, node, onset, silenced) for name, node in _sources(stage, onset)]
    automatic: list[tuple[str, tuple[int, ...]]] = []
    chosen: list[tuple[str, tuple[int, ...]]] = []
    for node in stage.nodes:
        operator = program.nodes[node].operator
        if node in stage.clockwork:
            continue
        if isinstance(operator, settings.State):
            values = _values(plan, stage, node)
            (chosen if on_purpose(plan, operator.name) else automatic).append((operator.name, values))
    switches = [
        program.nodes[node].operator.part  # type: ignore[union-attr]
        for node in stage.nodes
        if isinstance(program.nodes[node].operator, settings.Switched)
    ]
    total = 1
    for sizes in (*options, *(values for _, values in automatic), *((FALSE, TRUE) for _ in switches)):
        total *= len(sizes)
    if total > MOST_WORLDS:
        raise refuse(
            f"too much would have to be known before the onset: {total} different histories of "
            + ", ".join(name for name, _ in _sources(stage, onset)),
            "Let the alarm depend on fewer signals by themselves; a sum such as sign_of_life counts once.",
            name=f'alarm "{stage.alarms[0].name}"',
        )
    lives = _lives(stage, onset)
    signs = frozenset[str]().union(*(signals_of(program, tail) for tail in stage.tails))
    seen = {name.partition(".")[0] for name, _ in _sources(stage, onset)}
    everywhere = seen.issuperset(_unmeant(plan, silenced))
    tables = stage.last_signs is not None and not moved_by(stage, onset)
    found: dict[Choice, tuple[World, ...]] = {}
    for picked in product(*(values for _, values in chosen)):
        choice = Choice(tuple((name, value) for (name, _), value in zip(chosen, picked, strict=True)))
        every = tuple(_combine(onset, options, automatic, switches, choice, lives, signs, tables=tables))
        now = tuple(one for one in every if _lives_at_onset(one.pulses, one.levels))
        found[choice] = now if now and everywhere and onset.life_ends and not lives else every
    return found


def _combine(
    onset: Onset,
    options: Sequence[Sequence[World]],
    automatic: Sequence[tuple[str, Sequence[int]]],
    switches: Sequence[str],
    choice: Choice,
    lives: Sequence[tuple[int, ...]],
    signs: frozenset[str],
    *,
    tables: bool,
) -> Iterator[World]:
    for picked in product(*options):
        pulses, levels, told = dict(onset.pulses), dict(onset.levels), [onset.told]
        for one in picked:
            pulses |= one.pulses
            levels |= one.levels
            told += [one.told] if one.told else []
        for values in product(*(values for _, values in automatic)):
            states = dict(choice.states) | {name: value for (name, _), value in zip(automatic, values, strict=True)}
            for lit in product((FALSE, TRUE), repeat=len(switches)):
                switched = dict(zip(switches, lit, strict=True))
                for life in lives or (onset.life,):
                    if not life and any(gives_signs(one, signs) for one in picked):
                        continue
                    last = Last() if life and tables else None
                    yield World("; ".join(told), pulses, levels, life, {}, states, switched, last=last)


def _unmeant(plan: Plan, silenced: AbstractSet[str]) -> set[str]:
    """Return the parts that the resident sets off without meaning to: the last sign comes from one of them."""
    parts = {name.partition(".")[0] for name in silenced}
    return {part for part in parts if plan.parts[part].kind not in BY_HAND}


def _lives(stage: Stage, onset: Onset) -> list[tuple[int, ...]]:
    """Return when signs of life as a whole come last; nothing where no rule listens to them as a whole.

    At the onset, or long before it: then an alarm may stand already and somebody may have answered it, unless the
    hazard itself gives a sign of life.
    """
    if not stage.tails:
        return []
    life = onset.life if onset.life_ends else (0,)
    heard = {getattr(stage.program.nodes[node].operator, "signal", "") for node in stage.program.cone([*stage.tails])}
    return [life] if heard & {*onset.pulses, *onset.levels} else [life, ()]


def gives_signs(world: World, signs: AbstractSet[str]) -> bool:
    """Tell whether a signal that is put through by itself is a sign of life: then the last one was not long before."""
    return any(world.pulses.get(name) or (name in world.levels and world.levels[name].changes) for name in signs)


def moved_by(stage: Stage, onset: Onset) -> bool:
    """Tell whether the hazard itself gives a sign that a table of limits asks about: then that is the last one."""
    driven = {*onset.pulses, *onset.levels}
    asked = [] if stage.last_signs is None else stage.last_signs.tables
    return any(driven & signals_of(stage.program, node) for node in asked)


def _lives_at_onset(pulses: Mapping[str, tuple[int, ...]], levels: Mapping[str, Level]) -> bool:
    """Tell whether anything at all is reported at the onset: it is the moment of the last sign of life."""
    return any(0 in times for times in pulses.values()) or any(
        offset == 0 for level in levels.values() for offset, _ in level.changes
    )


def _sources(stage: Stage, onset: Onset) -> list[tuple[str, int]]:
    """Return the signals that matter by themselves and that the hazard does not drive."""
    found = []
    for node in stage.nodes:
        if node in stage.tails:
            continue
        operator = stage.program.nodes[node].operator
        match operator:
            case reported.PulseReport(name) | reported.LevelReport(name) | reported.NumberReport(name):
                if name not in onset.pulses and name not in onset.levels:
                    found.append((name, node))
            case _:
                pass
    return found


def _options(plan: Plan, stage: Stage, name: str, node: int, onset: Onset, silenced: frozenset[str]) -> list[World]:
    """Return what one signal may have done before the onset, and does after it.

    A button that nobody pressed for this hazard is left alone: what pressing it sets is a choice of its own.
    """
    operator = stage.program.nodes[node].operator
    lives = name in silenced and plan.parts[name.partition(".")[0]].kind not in BY_HAND
    if isinstance(operator, reported.PulseReport):
        if not lives:
            return [World()]
        timers = _timers_above(stage, node)
        recent = {(0,)} | {tuple(sorted(-age for age in ages)) for timer in timers for ages in _ages(timer)}
        if timers and False in turns(stage, node):  # what may raise an alarm at the onset may have raised it before
            recent |= {tuple(time - 1 for time in times) for times in recent if times[-1] == 0}
        return [World(pulses={name: ()}), *(_reported(name, times) for times in sorted(recent, reverse=True))]
    if isinstance(operator, reported.LevelReport):
        if not lives:
            return [World(levels={name: Level(TRUE if name.endswith(".mains") else FALSE)})]
        return [*_level_options(name), *_turned(stage, name, node)]
    rest = AT_REST.get(unit_of(name), 0.0)
    steady = [World(levels={name: Level(rest)})]
    if lives and onset.life_ends:
        steady += [
            World(f"{name} stays {word}", levels={name: Level(value)}) for word, value in (("low", -FAR), ("high", FAR))
        ]
    return steady


def _ages(timer: Timer) -> Iterator[tuple[int, ...]]:
    """Yield how old the reports may be that a timer has heard: so that it ends just after the onset, or at the latest.

    A count has then heard as many as it waits for, a millisecond apart.
    """
    many = _waits_for(timer)
    if many <= timer.duration_ms:
        yield tuple(range(many))
    yield (timer.duration_ms - 1,) if many == 1 else tuple(max(timer.duration_ms - 1 - one, 0) for one in range(many))


def _reported(name: str, times: tuple[int, ...]) -> World:
    often = f", {len(times)} times" if len(times) > 1 else ""
    return World(f"{name} {_ago(-max(times))}{often}", pulses={name: times})


def _ago(age: int) -> str:
    return "at the onset" if age == 0 else f"{age / 1000:.3f} s before the onset"


def _level_options(name: str) -> list[World]:
    return [
        World(levels={name: Level(FALSE)}),
        World(f"{name} all the time", levels={name: Level(TRUE)}),
        World(f"{name} begins at the onset", levels={name: Level(FALSE, ((0, TRUE),))}),
        World(f"{name} ends at the onset", levels={name: Level(TRUE, ((0, FALSE),))}),
    ]


def _turned(stage: Stage, name: str, node: int) -> Iterator[World]:
    """Yield how a level may have begun and ended where rules count that, or may raise an alarm by it at once."""
    timers = _timers_above(stage, node)
    times = max(map(_waits_for, timers), default=1)
    begins = any(
        node in stage.program.nodes[above].children and isinstance(stage.program.nodes[above].operator, edge.Edge)
        for above in stage.nodes
    )
    just_before = timers and begins and False in turns(stage, node)
    for last, value in product((0, -1) if just_before else (0,), (TRUE, FALSE)):
        if times == 1 and last == 0:
            continue  # put through for every level
        other = TRUE + FALSE - value
        ages = reversed(range(2 * times if times > 1 else 1))
        turned = tuple((last - age, other if age % 2 else value) for age in ages)
        often = f", {times} times," if times > 1 else ""
        told = f"{name} {'begins' if value == TRUE else 'ends'}{often} {_ago(-last)}"
        yield World(told, levels={name: Level(other if times == 1 else value, turned)})


def unit_of(name: str) -> str:
    """Return the unit of a number signal by its last word."""
    word = name.partition(".")[2]
    if word == "battery":
        return "%"
    for signals in SIGNALS_OF.values():
        if word in signals and signals[word].unit:
            return signals[word].unit
    return ""


def _timers_above(stage: Stage, node: int) -> list[Timer]:
    """Return the timers that a signal starts, directly or through joined pulses."""
    program, found = stage.program, list[Timer]()
    waiting, seen = [node], {node}
    while waiting:
        below = waiting.pop()
        for above in stage.nodes:
            if above in stage.tails or below not in program.nodes[above].children or above in seen:
                continue
            operator = program.nodes[above].operator
            if isinstance(operator, silence.Silence | count.Count | follow.Then | follow.Without | held.Held):
                found.append(operator)
            else:
                seen.add(above)
                if program.is_pulse(above) and not isinstance(operator, edge.Fire):
                    waiting.append(above)
    return found


@dataclass(frozen=True)
class Heard:
    """How rules hear a signal by itself: the durations of the timers that hear it, of a count the share of one report.

    ``times`` is how many reports a count may wait for.
    """

    timers_ms: frozenset[int] = frozenset()
    times: int = 1


def heard_by(plan: Plan, stage: Stage, silenced: frozenset[str]) -> dict[str, Heard]:
    """Return the signals that the resident gives and a rule reads by itself; what a state remembers has been heard."""
    program = stage.program
    found: dict[str, list[Timer | limits.Limits]] = {}
    for node in stage.nodes:
        operator = program.nodes[node].operator
        if node in stage.tails or not isinstance(operator, reported.PulseReport | reported.LevelReport):
            continue
        if operator.signal in silenced and plan.parts[operator.signal.partition(".")[0]].kind not in BY_HAND:
            found[operator.signal] = []
    states = {node for node in stage.nodes if isinstance(program.nodes[node].operator, settings.State)}
    for node in stage.nodes:
        operator = program.nodes[node].operator
        if not isinstance(operator, Timer | limits.Limits):
            continue
        for below in program.cone([node], stage.tails | stage.free | states):
            if (signal := getattr(program.nodes[below].operator, "signal", "")) in found and below not in stage.tails:
                found[signal].append(operator)
    return {
        name: Heard(frozenset(_share_ms(one) for one in timers), max([1, *map(_waits_for, timers)]))
        for name, timers in found.items()
    }


def _waits_for(timer: Timer | limits.Limits) -> int:
    return timer.count if isinstance(timer, count.Count) else 1


def _share_ms(timer: Timer | limits.Limits) -> int:
    return timer.shortest_ms if isinstance(timer, limits.Limits) else timer.duration_ms // _waits_for(timer)


def _values(plan: Plan, stage: Stage, node: int) -> tuple[int, ...]:
    """Return how a state may stand at an onset: as something that happened set it, or as the clock left it."""
    operator, rules = stage.program.nodes[node].operator, stage.program.nodes[node].children
    assert isinstance(operator, settings.State)
    if plan.states[operator.name].set_by != "rules":
        return tuple(range(len(operator.values)))
    if on_purpose(plan, operator.name):
        return tuple(sorted({operator.initial, *operator.set_to}))
    happens = {value for rule, value in zip(rules, operator.set_to, strict=True) if rule not in stage.clockwork}
    by_clock = any(rule in stage.clockwork for rule in rules)
    return (*sorted(happens), AS_CLOCK) if by_clock else tuple(sorted({operator.initial, *happens}))


def on_purpose(plan: Plan, state: str) -> bool:
    """Tell whether a person sets a state on purpose, rather than the home by what it sees."""
    if plan.states[state].set_by != "rules":
        return True
    kinds = set[str]()
    rules: list[Alarm | Aid] = [*plan.alarm, *plan.aid]
    for rule in rules:
        if any(isinstance(deed.action, SetState) and deed.action.state == state for deed in rule.do):
            formulas = [rule.when.formula] + ([rule.while_.formula] if rule.while_ is not None else [])
            for formula in formulas:
                kinds |= {plan.parts[name.partition(".")[0]].kind for name in part_signals_in(plan, formula)}
    return bool(kinds) and kinds <= BY_HAND
