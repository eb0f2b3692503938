"""The worst case as a record that the real engine runs to the same millisecond.

A world of the proof says what matters, relative to the onset. A record says everything, in absolute time. What the
proof leaves open (which detector is the sign of life, what went before) is filled in the most natural way that
changes nothing; whether it changes nothing, the engine itself is asked.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from stillwell.engine.axis import Axis
from stillwell.engine.columns import Columns, Reports
from stillwell.engine.lanes import depth
from stillwell.engine.program import Program, RuleNode
from stillwell.plan.model import Plan
from stillwell.proof.catalogue import Onset
from stillwell.proof.last_signs import Sort
from stillwell.proof.timeline import Life, Stretch, timeline, voices
from stillwell.proof.world import ASK_AGAIN_MS, DAY_MS, World
from stillwell.record.columns import FALSE, TRUE, UNKNOWN, Column, Pulses, Record
from stillwell.replay.chain import Chain

FOLLOWED_MS = 10 * DAY_MS
"""How long a record goes on where nobody is ever told."""

AFTERWARDS_MS = 3_600_000
CLOCK_WEEK_MS = 9 * DAY_MS
"""What the clock sets, it sets within a week; two days more for its own edges."""


@dataclass(frozen=True)
class Noticed:
    """What the engine and the call lists make of an onset in a record.

    ``raised`` holds for each alarm the first instant at or after the onset at which it asks somebody (None: never),
    ``told_ms`` when the first person is told, ``alarm`` by which alarm.
    """

    raised: Mapping[str, int | None]
    told_ms: int | None
    alarm: str | None


@dataclass(frozen=True)
class Witness:
    """A record that shows a case, and what comes of it."""

    record: Record
    onset_ms: int
    noticed: Noticed


@dataclass(frozen=True)
class Scene:
    """What is to be shown: a way a hazard begins, the world it begins in, and whom it should raise.

    ``ends_ms``: how long after the onset the home can still decide anything; None: for ever.
    """

    onset: Onset
    world: World
    onset_ms: int
    alarms: tuple[str, ...]
    ends_ms: int | None = None


def witness(plan: Plan, program: Program, scene: Scene, told_ms: int | None) -> Witness | None:
    """Return a record in which the first person is told at ``told_ms`` (None: never within ten days).

    None where no record shows the case: what the world says of several signals cannot happen together.
    """
    stretch = _stretch(plan, program, scene, told_ms)
    for life in _lives(plan, program, scene):
        record = timeline(plan, program, scene.world, life, stretch)
        found = noticed(plan, program, record, scene.onset_ms, scene.alarms)
        if found.told_ms == told_ms:
            return Witness(record, scene.onset_ms, found)
    return None


def noticed(plan: Plan, program: Program, record: Record, onset_ms: int, alarms: Sequence[str]) -> Noticed:
    """Run the engine over a record and ask the call lists who is told of the alarms after an onset."""
    columns = Columns(program, Axis.of_span(*record.span), Reports.of_record(record))
    chain = Chain(plan)
    raised: dict[str, int | None] = {}
    told: list[tuple[int, str]] = []
    for rule in program.alarms:
        if rule.name not in alarms or rule.of_part:
            continue
        instant = raised[rule.name] = asked_at(columns, rule, onset_ms)
        at_ms = None if instant is None else chain.told_at(rule.call, instant)
        if at_ms is not None:
            told.append((at_ms, rule.name))
    told_ms, alarm = min(told, default=(None, None))
    return Noticed(raised, told_ms, alarm)


def asked_at(columns: Columns, rule: RuleNode, onset_ms: int) -> int | None:
    """Return when an alarm first asks somebody: it is raised, or one that stood before the onset still stands."""
    times = columns.pulses(rule.fires).times
    found = times[times >= onset_ms][:1].tolist()
    again = onset_ms + ASK_AGAIN_MS
    if again < columns.axis.ends[0] and _stands(columns.column(rule.condition), onset_ms, again):
        found.append(again)
    return min(found, default=None)


def _stands(condition: Column, onset_ms: int, until_ms: int) -> bool:
    if isinstance(condition, Pulses):
        return False
    known = condition.values != UNKNOWN
    times, values = condition.times[known], condition.values[known]
    before = values[times < onset_ms]
    meanwhile = values[(times >= onset_ms) & (times < until_ms)]
    return bool(len(before)) and int(before[-1]) == TRUE and not (meanwhile == FALSE).any()


def _stretch(plan: Plan, program: Program, scene: Scene, told_ms: int | None) -> Stretch:
    rules = [rule for rule in program.alarms if rule.name in scene.alarms]
    memory = max((depth(program, node) for rule in rules for node in (rule.fires, rule.condition)), default=0)
    reach = max(-offset for offset in scene.world.offsets())
    gone = [plan.parts[part].supervision or 0 for part in scene.world.lost]
    waits = memory + reach + max(gone, default=0)
    history = max(waits, CLOCK_WEEK_MS if program.states else 0) + DAY_MS
    after = FOLLOWED_MS if told_ms is None else told_ms - scene.onset_ms + AFTERWARDS_MS
    if scene.ends_ms is not None:
        after = min(after, scene.ends_ms)
    return Stretch(scene.onset_ms - history, scene.onset_ms, scene.onset_ms + after)


def _lives(plan: Plan, program: Program, scene: Scene) -> Iterator[Life]:
    """Yield what may stand for the signs of life, the most natural first."""
    found = voices(plan, program, scene.world)
    if isinstance(scene.world.last, Sort):
        lasts = [name for name in scene.world.last.signals if name not in scene.world.levels]
        yield from (Life(found[:1], one, before=True) for one in lasts)
        yield from (Life((), one) for one in lasts)
    choices = [*((one,) for one in found), found] if found else [()]
    if not scene.onset.life_ends:
        yield from (Life(one, before=True, after=True) for one in choices[:1])
        yield Life()
    else:
        yield from (Life(one, before=True) for one in choices)
    yield from (Life(one) for one in choices)
