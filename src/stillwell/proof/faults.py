"""What may be broken, one thing at a time, and what that does to a world and to the way to the people."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from stillwell.plan.kinds import DERIVED_PULSES, SIGNALS_OF
from stillwell.plan.model import Plan
from stillwell.proof.catalogue import AT_REST
from stillwell.proof.tell import ALL_WELL, Outage
from stillwell.proof.world import Level, World
from stillwell.record.columns import FALSE, TRUE, UNKNOWN
from stillwell.rules.kinds import Kind

LATE_MS = 10 * 60_000
"""How late a late part's reports come. An assumption, stated in docs/proof.md."""


@dataclass(frozen=True)
class Fault:
    """One thing that is broken.

    ``kind`` and ``subject`` name it (``lost``, ``hall_pir``). ``lost`` are the parts that report nothing, ``stuck``
    and ``late`` the part that does so, ``outage`` what is broken on the way to people. ``ends_ms`` is how long after
    the onset the home can still decide and tell anything (None: for ever). ``fresh_mains``: the mains fail at the
    onset, so that parts without a hold-up are lost from then on.
    """

    kind: str
    subject: str
    lost: tuple[str, ...] = ()
    stuck: str = ""
    late: str = ""
    outage: Outage = ALL_WELL
    ends_ms: int | None = None
    fresh_mains: bool = False

    def __str__(self) -> str:
        return f"{self.subject} {self.kind}".strip()


def single_faults(plan: Plan) -> tuple[Fault, ...]:
    """Return every single fault of a plan."""
    return tuple(_single(plan))


def _single(plan: Plan) -> Iterator[Fault]:
    everything = tuple(plan.parts)
    for name, part in plan.parts.items():
        if part.kind == "controller":
            yield Fault("lost", name, ends_ms=0)
            continue
        heard_by_it = tuple(other for other, its in plan.parts.items() if its.hub == name)
        yield Fault("lost", name, lost=(name, *heard_by_it))
        if part.power == "battery":
            yield Fault("flat battery not noticed yet", name, lost=(name,))
        if SIGNALS_OF[part.kind]:
            yield Fault("stuck", name, stuck=name)
            yield Fault("late", name, late=name)
    yield Fault("stopped", "message broker", lost=everything)
    on_mains = tuple(name for name, part in plan.parts.items() if part.power == "mains" and part.kind != "controller")
    hold_up = _controller_hold_up(plan)
    yield Fault("out since the onset", "mains", lost=on_mains, ends_ms=hold_up, fresh_mains=True)
    yield Fault("out longer than the controller holds", "mains", lost=on_mains, ends_ms=None if hold_up is None else 0)
    for way, channels in ways_out(plan).items():
        others = {channel for other, carried in ways_out(plan).items() if other != way for channel in carried}
        yield Fault("out", way, outage=Outage(channels=frozenset(channels) - others))
    for person in plan.people:
        yield Fault("unreachable", person, outage=Outage(people=frozenset({person})))


def _controller_hold_up(plan: Plan) -> int | None:
    """Return how long the home's controllers go on without mains; None where none of them needs it."""
    hold_ups = [
        part.hold_up or 0 for part in plan.parts.values() if part.kind == "controller" and part.power == "mains"
    ]
    return min(hold_ups, default=None)


def ways_out(plan: Plan) -> Mapping[str, tuple[str, ...]]:
    """Return what carries messages out of the home, and which channels each carries; by default one for all."""
    if plan.ways_out:
        return plan.ways_out
    channels = {channel for person in plan.people.values() for channel in person.channels}
    return {"internet": tuple(sorted(channels))}


def afflicted(plan: Plan, fault: Fault, world: World, life_parts: frozenset[str]) -> list[World]:
    """Return the worlds that a fault may make of a world; the worst of them counts.

    ``life_parts`` are the parts that signs of life as a whole are heard from.
    """
    if fault.stuck:
        return _stuck(plan, fault.stuck, world, life_parts)
    if fault.late:
        return [_late(fault.late, world, life_parts)]
    if fault.lost:
        return _lost(plan, fault, world, life_parts)
    return [world]


def afflicted_by_all(plan: Plan, faults: Sequence[Fault], world: World, life_parts: frozenset[str]) -> list[World]:
    """Return the worlds that several faults of different parts make of a world together.

    What is lost is not heard, whatever else ails it; signs of life end only with the last part that hears them.
    """
    worlds = [world]
    for fault in sorted(faults, key=lambda one: bool(one.lost)):
        worlds = [one for each in worlds for one in afflicted(plan, fault, each, life_parts)]
        life_parts = life_parts - set(fault.lost)
    return worlds


def joint_outage(plan: Plan, faults: Sequence[Fault]) -> Outage:
    """Return what is broken on the way to people with several faults: a channel when all that carries it is out."""
    if len(faults) == 1:
        return faults[0].outage
    people = frozenset[str]().union(*(fault.outage.people for fault in faults))
    out = {fault.subject for fault in faults if fault.kind == "out"}
    carried = {channel for way in out for channel in ways_out(plan)[way]}
    others = {channel for way, channels in ways_out(plan).items() if way not in out for channel in channels}
    return Outage(people, frozenset(carried - others))


def _of(part: str, name: str) -> bool:
    return name.partition(".")[0] == part


def _lost(plan: Plan, fault: Fault, world: World, life_parts: frozenset[str]) -> list[World]:
    """A lost part reports nothing. It may be known to be lost, or be lost since just before the onset."""
    gone = set(fault.lost)
    life = world.life if life_parts - gone or not life_parts or fault.fresh_mains else ()
    pulses = {name: times for name, times in world.pulses.items() if name.partition(".")[0] not in gone}
    known, unnoticed = dict(world.levels), dict(world.levels)
    for name, level in world.levels.items():
        part = name.partition(".")[0]
        if part in gone:
            number = unit_carried(plan, name)
            known[name] = Level(float("nan") if number else UNKNOWN)
            earlier = tuple(change for change in level.changes if fault.fresh_mains and change[0] <= _holds(plan, part))
            unnoticed[name] = Level(level.before, earlier)
    supervised = {part: plan.parts[part].supervision for part in gone}
    since = {
        part: time + (_holds(plan, part) if fault.fresh_mains else 0)
        for part, time in supervised.items()
        if time is not None
    }
    world = replace(world, chatter=world.chatter - gone)
    fresh = replace(world, pulses=pulses, levels=unnoticed, life=life, lost={**world.lost, **since})
    if fault.fresh_mains or fault.kind.startswith("flat"):
        return [fresh]
    before = {part: None for part in gone if plan.parts[part].supervision is not None}
    return [fresh, replace(world, pulses=pulses, levels=known, life=life, lost={**world.lost, **before})]


def _holds(plan: Plan, part: str) -> int:
    return plan.parts[part].hold_up or 0


def unit_carried(plan: Plan, name: str) -> bool:
    """Tell whether a part's signal is a number."""
    part, _, word = name.partition(".")
    signals = SIGNALS_OF[plan.parts[part].kind]
    return word == "battery" or (word in signals and signals[word].kind is Kind.NUMBER)


def _stuck(plan: Plan, part: str, world: World, life_parts: frozenset[str]) -> list[World]:
    """A stuck part keeps reporting one thing. A pulse: over and over, or never again though it says it is there."""
    silent = {name: times for name, times in world.pulses.items() if not _of(part, name)}
    chatters = frozenset({*world.chatter, part}) if _gives_pulses(plan, part) else world.chatter
    found = []
    for value in (FALSE, TRUE):
        levels = dict(world.levels)
        for name in [name for name in levels if _of(part, name)]:
            rest = levels[name].before
            levels[name] = Level(rest if unit_carried(plan, name) else value)
        for signal, carried in SIGNALS_OF[plan.parts[part].kind].items():
            if carried.kind is Kind.LEVEL and f"{part}.{signal}" not in levels:
                levels[f"{part}.{signal}"] = Level(value)
            elif carried.kind is Kind.NUMBER and f"{part}.{signal}" not in levels:
                levels[f"{part}.{signal}"] = Level(AT_REST.get(carried.unit, 0.0))
        switched = {**world.switched, part: value} if part in world.switched else world.switched
        found.append(replace(world, pulses=silent, levels=levels, switched=switched))
    only = life_parts == {part}
    found = [replace(one, life=() if only else one.life) for one in found]
    if chatters != world.chatter:
        found.append(replace(world, pulses=silent, chatter=chatters))
    return found


def _gives_pulses(plan: Plan, part: str) -> bool:
    signals = SIGNALS_OF[plan.parts[part].kind]
    return any(carried.kind is Kind.PULSE and name not in DERIVED_PULSES for name, carried in signals.items())


def _late(part: str, world: World, life_parts: frozenset[str]) -> World:
    """A late part's reports after the onset come later; a last sign of life may be one of them."""
    pulses = {
        name: tuple(time + LATE_MS if time >= 0 else time for time in times) if _of(part, name) else times
        for name, times in world.pulses.items()
    }
    levels = {
        name: Level(
            level.before, tuple((time + LATE_MS if time >= 0 else time, value) for time, value in level.changes)
        )
        if _of(part, name)
        else level
        for name, level in world.levels.items()
    }
    life = tuple(time + LATE_MS for time in world.life) if part in life_parts else world.life
    return replace(world, pulses=pulses, levels=levels, life=life)
