"""How soon somebody knows, the slow way: one onset, one world, the live engine, event by event.

A world of the proof is turned into reports: what every part says before the onset and after it. The engine that runs
in a home (``Stepper``) takes them one by one; the first alarm goes through the call list person by person
(``Chain``). Nothing here knows of critical onsets, cells, lanes or curves.

Until the onset rules set nothing (the world says how states stand), and parts that work are heard in time: so the
history runs in a program whose states have no rules and whose parts need no supervision, and the stored state of
that program is taken up by the home's own at the onset.
"""

from dataclasses import dataclass, replace

from stillwell.engine.operators import logic, lost, reported, settings
from stillwell.engine.program import Node
from stillwell.engine.step import Fired, Returned, Stepper
from stillwell.proof.last_signs import Sort
from stillwell.proof.world import NEVER
from stillwell.record.columns import TRUE, UNKNOWN

MINUTE_MS, DAY_MS = 60_000, 86_400_000
ASKS_AGAIN_MS = 30 * MINUTE_MS
"""docs/rule-language.md: who looks after an alarm that stays true is asked again after half an hour."""

WEEK_OF_CLOCK_MS = 9 * DAY_MS
"""What the clock sets, it sets within a week; two days more for its own edges."""


@dataclass(frozen=True)
class Bench:
    """A stage made ready for slow runs: the home's program, and the one that only remembers."""

    stage: object
    chain: object
    home: object
    history: object
    voices: dict
    """For each node that stands for signs of life as a whole, the signal that is reported for it."""


def bench_of(stage, chain):
    """Return the bench of a stage of the proof and a plan's call lists."""
    program = stage.program
    # where a table tells signs apart by their sort, each sum gets a voice of its own
    apart = stage.last_signs is not None
    voices = {node: f"life.{node}" if apart else _voice(stage, node) for node in stage.tails}
    for node in sorted(stage.free):
        voices[program.nodes[node].children[0]] = "life.doors"
    nodes, quiet = [], []
    for index, node in enumerate(program.nodes):
        match node.operator:
            case lost.Lost(part):
                heard = Node(lost.Lost(part, None))
                nodes.append(heard)
                quiet.append(heard)
            case settings.State() if index not in stage.clockwork:
                nodes.append(node)
                quiet.append(Node(replace(node.operator, set_to=())))
            case settings.Switched():
                nodes.append(node)
                quiet.append(Node(replace(node.operator, orders=()), node.children[:1]))
            case _ if voices.get(index, "").startswith("life."):
                said = Node(reported.PulseReport(voices[index]))
                nodes.append(said)
                quiet.append(said)
            case _:
                nodes.append(node)
                quiet.append(node)
    sources = program.sources | {name: node for node, name in voices.items() if name.startswith("life.")}
    home = replace(program, nodes=tuple(nodes), sources=sources)
    history = replace(program, nodes=tuple(quiet), sources=sources)
    return Bench(stage, chain, home, history, voices)


def _voice(stage, tail):
    """Return a report that is a sign of life and nothing else; where every report means more, one of our own."""
    program = stage.program
    waiting = [tail]
    while waiting:
        index = waiting.pop()
        node = program.nodes[index]
        match node.operator:
            case reported.PulseReport(name) if index == tail or index not in stage.nodes:
                return name
            case logic.AnyPulse():
                waiting += sorted(node.children, reverse=True)
    return f"life.{tail}"


def events_of(bench, world, onset, start):
    """Return (instant, name, value) of every report of a world, in order of time."""
    found = []
    for name, times in world.pulses.items():
        found += [(onset + offset, name, 1) for offset in times]
    for name, level in world.levels.items():
        found += [(start, name, _said(name, level.before))]
        found += [(onset + offset, name, _said(name, value)) for offset, value in level.changes]
    hit, moved = _hit(bench, world)
    for name in dict.fromkeys(name for node, name in bench.voices.items() if node in hit):
        found += [(onset + offset, name, 1) for offset in world.life]
    if moved is not None and world.life:
        found.append((onset + max(world.life) - moved, "life.doors", 1))
    for part, since in world.lost.items():
        found.append((start if since is None else onset + since, f"{part}.link_lost", 1))
    for part, value in world.switched.items():
        found.append((start, f"{part}.on", _said("on", value)))
    for state, value in world.states.items():
        found.append((start, state, value))
    # a part that is lost at once has said its last word before
    return sorted(found, key=lambda one: (one[0], one[1].endswith(".link_lost")))


def _hit(bench, world):
    """Return the sums that hear the signs of life of a world, and how long before the last a door moved, if it did."""
    stage = bench.stage
    if stage.last_signs is None:
        return stage.tails, None
    if not isinstance(world.last, Sort):
        return stage.tails - stage.last_signs.sort_tails, None
    within = [stage.program.nodes[node].operator.duration_ms for node in world.last.true]
    return world.last.tails, min(within, default=None) and min(within) - 1


def _said(name, value):
    """Return a value of the columns as what an event carries."""
    if isinstance(value, float):
        return None if value != value else value  # noqa: PLR0124 - NaN is unknown
    return None if value == UNKNOWN else int(value == TRUE)


def told(bench, world, onset, horizon_ms, unreachable=frozenset()):
    """Return when the first person is told, ``NEVER`` where nobody is within the horizon."""
    stage = bench.stage
    reach = max(-offset for offset in world.offsets())
    start = onset - max(stage.memory_ms + reach, WEEK_OF_CLOCK_MS) - 1
    events = events_of(bench, world, onset, start)
    stepper = Stepper(bench.history, start)
    later = take_until(stepper, events, onset)
    stepper.advance(onset - 1)
    snapshot = stepper.snapshot()
    stood = {rule.name for rule in stage.alarms if snapshot["cells"][rule.fires][0] == TRUE and _is_level(stage, rule)}
    stepper = Stepper.resume(bench.home, snapshot)
    return first_told(stage.alarms, bench.chain, stepper, events[later:], onset, horizon_ms, stood, unreachable)


def _is_level(stage, rule):
    return not stage.program.is_pulse(rule.condition)


def take_until(stepper, events, until):
    """Let a stepper take all events before an instant; return how many there were."""
    index = 0
    while index < len(events) and events[index][0] < until:
        index = _take(stepper, events, index)[0]
    return index


def _take(stepper, events, index):
    now, together = events[index][0], []
    while index < len(events) and events[index][0] == now:
        together.append(events[index][1:])
        index += 1
    return index, stepper.take(now, together)


def first_told(alarms, chain, stepper, events, onset, horizon_ms, stood, unreachable):
    """Return when the first person is told of one of the alarms, from just before the onset on.

    ``stood`` are the alarms that stood already and were answered at the onset; ``NEVER`` beyond the horizon.
    """
    calls = {rule.name: rule.call for rule in alarms}
    best, index, standing = NEVER, 0, set(stood)

    def tell(name, raised):
        at_ms = chain.told_at(calls[name], raised, unreachable)
        return min(best, NEVER if at_ms is None else at_ms)

    while True:
        times = [one for one in (stepper.deadline(), events[index][0] if index < len(events) else None) if one]
        now = min(times, default=onset + horizon_ms)
        if standing and now >= onset + ASKS_AGAIN_MS:
            for name in standing:
                best = tell(name, onset + ASKS_AGAIN_MS)
            standing = set()
        if now >= min(best, onset + horizon_ms):
            return best
        if index < len(events) and events[index][0] == now:
            index, decided = _take(stepper, events, index)
        else:
            decided = stepper.advance(now)
        for one in decided:
            if isinstance(one, Returned):
                standing.discard(one.rule.name)
            elif isinstance(one, Fired) and one.rule.name in calls:
                best = tell(one.rule.name, one.at_ms)
