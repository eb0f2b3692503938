"""What may be broken, one thing at a time, and what that does to a world and to the way to the people."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import product

from stillwell.plan.kinds import DERIVED_PULSES, SIGNALS_OF
from stillwell.plan.model import Plan
from stillwell.proof.catalogue import AT_REST
from stillwell.proof.corners import Heard, gives_signs
from stillwell.proof.last_signs import Last, Sort
from stillwell.proof.tell import ALL_WELL, Outage
from stillwell.proof.world import Changes, Level, World
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


@dataclass(frozen=True)
class Hearing:
    """What a hazard's alarms hear, as far as faults must know.

    ``life`` are the parts that signs of life as a whole are heard from, ``driven`` the signals that the hazard itself
    moves: before the onset they are at rest. ``quiet_ms`` is the shortest silence that counts (None: none does).
    ``heard`` are the signals that the resident gives and a rule reads by itself. ``signs`` are the signals that make up
    signs of life as a whole. ``wavering`` are the parts of which some reports may be worse than none and than all.
    """

    life: frozenset[str] = frozenset()
    driven: frozenset[str] = frozenset()
    quiet_ms: int | None = None
    heard: Mapping[str, Heard] = field(default_factory=dict)
    signs: frozenset[str] = frozenset()
    wavering: frozenset[str] = frozenset()


def afflicted(plan: Plan, fault: Fault, world: World, hearing: Hearing) -> list[World]:
    """Return the worlds that a fault may make of a world; the worst of them counts."""
    if fault.stuck:
        return _stuck(plan, fault.stuck, world, hearing)
    if fault.late:
        late = frozenset({fault.late})
        return _anchored(late, world, hearing) if late & hearing.wavering else _late(fault.late, world, hearing)
    if fault.lost:
        return _lost(plan, fault, world, hearing)
    return [world]


def afflicted_by_all(plan: Plan, faults: Sequence[Fault], world: World, hearing: Hearing) -> list[World]:
    """Return the worlds that several faults of different parts make of a world together.

    What is lost is not heard, whatever else ails it; signs of life end only with the last part that hears them.
    """
    worlds = [world]
    late = frozenset(fault.late for fault in faults if fault.late)
    if late & hearing.wavering:
        worlds, faults = _anchored(late, world, hearing), [fault for fault in faults if not fault.late]
    for fault in sorted(faults, key=lambda one: bool(one.lost)):
        worlds = [one for each in worlds for one in afflicted(plan, fault, each, hearing)]
        hearing = replace(hearing, life=hearing.life - set(fault.lost))
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


def _part(name: str) -> str:
    return name.partition(".")[0]


def _of(part: str, name: str) -> bool:
    return _part(name) == part


def _last_word(world: World, parts: Collection[str], hearing: Hearing, holds_ms: int = 0) -> World:
    """Return the world in which some parts have reported for the last time at the onset, or so long after it.

    What the hazard moves begins with the onset: of that they have reported nothing where they fall silent with it.
    """
    until_ms = holds_ms - world.after_ms
    pulses, levels = dict(world.pulses), dict(world.levels)
    for name in [name for name in pulses if _part(name) in parts]:
        until = until_ms - 1 if name in hearing.driven and not holds_ms else until_ms
        pulses[name] = tuple(time for time in pulses[name] if time <= until)
    for name in [name for name in levels if _part(name) in parts]:
        until = until_ms - 1 if name in hearing.driven and not holds_ms else until_ms
        before, changes = levels[name].before, levels[name].changes
        levels[name] = Level(before, tuple(change for change in changes if change[0] <= until))
    life = world.life
    if hearing.life and hearing.life <= set(parts):
        life = tuple(time for time in life if time <= until_ms)
    return replace(world, pulses=pulses, levels=levels, life=life)


def _lost(plan: Plan, fault: Fault, world: World, hearing: Hearing) -> list[World]:
    """A lost part reports nothing: since the onset and not missed yet, or since so long that it is known."""
    gone = set(fault.lost)
    world = replace(world, chatter=world.chatter - gone)
    if isinstance(world.last, Last) and world.last.late in gone:
        world = replace(world, last=replace(world.last, late="", late_ms=0))
    held = {part: _holds(plan, part) if fault.fresh_mains else 0 for part in gone}
    fresh = world
    for holds in sorted(set(held.values())):
        fresh = _last_word(fresh, {part for part in gone if held[part] == holds}, hearing, holds)
    supervised = {part: time for part in gone if (time := plan.parts[part].supervision) is not None}
    missed = {part: held[part] + time - world.after_ms for part, time in supervised.items()}
    fresh = replace(fresh, lost={**world.lost, **missed})
    if fault.fresh_mains:
        return [fresh]
    deaf = bool(hearing.life) and hearing.life <= gone
    silent = deaf and bool(world.life) and not gives_signs(fresh, hearing.signs)
    found = [fresh, replace(fresh, life=(), last=None)] if silent else [fresh]
    if fault.kind.startswith("flat"):
        return found
    pulses = {name: times for name, times in world.pulses.items() if _part(name) not in gone}
    levels = dict(world.levels)
    for name in [name for name in levels if _part(name) in gone]:
        levels[name] = Level(float("nan") if unit_carried(plan, name) else UNKNOWN)
    lost = {**world.lost, **dict.fromkeys(supervised)}
    life = () if deaf else world.life
    return [*found, replace(world, pulses=pulses, levels=levels, life=life, lost=lost, last=_without(world, gone))]


def _without(world: World, parts: Collection[str]) -> Last | Sort | None:
    """Return how the last sign is chosen where some parts have long given none."""
    return replace(world.last, silent=world.last.silent | {*parts}) if isinstance(world.last, Last) else world.last


def _holds(plan: Plan, part: str) -> int:
    return plan.parts[part].hold_up or 0


def unit_carried(plan: Plan, name: str) -> bool:
    """Tell whether a part's signal is a number."""
    part, _, word = name.partition(".")
    signals = SIGNALS_OF[plan.parts[part].kind]
    return word == "battery" or (word in signals and signals[word].kind is Kind.NUMBER)


def _stuck(plan: Plan, part: str, world: World, hearing: Hearing) -> list[World]:
    """A stuck part keeps reporting one thing. A pulse: over and over, or never again though it says it is there.

    It may have been so for long, or since the onset.
    """
    carried = {f"{part}.{name}": signal for name, signal in SIGNALS_OF[plan.parts[part].kind].items()}
    deaf = hearing.life == {part}
    last = _last_word(world, {part}, hearing)
    long = replace(
        world,
        pulses={name: times for name, times in world.pulses.items() if not _of(part, name)},
        life=() if deaf else world.life,
        last=_without(world, {part}),
    )
    found = []
    for value in (FALSE, TRUE):
        stays, turns = dict(world.levels), dict(last.levels)
        for name, signal in carried.items():
            if signal.kind is Kind.LEVEL:
                stays[name] = Level(value)
                turns[name] = Level(FALSE if value == TRUE else TRUE, ((-world.after_ms, value),))
            elif signal.kind is Kind.NUMBER:
                rest = world.levels[name].before if name in world.levels else AT_REST.get(signal.unit, 0.0)
                stays[name] = turns[name] = Level(rest)
        switched = {**world.switched, part: value} if part in world.switched else world.switched
        found.append(replace(long, levels=stays, switched=switched))
        # as it turns it may pass for a sign of life
        life = last.life or ((0,) if part in hearing.life else ())
        found.append(replace(last, levels=turns, switched=switched, life=life))
    if _gives_pulses(plan, part):
        found.append(replace(long, chatter=frozenset({*world.chatter, part})))
    return found


def _gives_pulses(plan: Plan, part: str) -> bool:
    signals = SIGNALS_OF[plan.parts[part].kind]
    return any(carried.kind is Kind.PULSE and name not in DERIVED_PULSES for name, carried in signals.items())


def _late(part: str, world: World, hearing: Hearing) -> list[World]:
    """A late part's reports come later, those from before the onset as well.

    So signs of life may go on to come in until the last of them does. What else it says about the onset may be from
    before, and come in then, or be late itself; and all that it saw in the delay before the onset comes in after it.
    """
    pulses, levels, early = dict(world.pulses), dict(world.levels), dict(world.levels)
    for name in [name for name in pulses if _of(part, name)]:
        times = _shifted(pulses[name])
        pulses[name] = times if name in hearing.driven else tuple(sorted({*pulses[name], *times}))
    for name in [name for name in levels if _of(part, name)]:
        before, changes = levels[name].before, levels[name].changes
        levels[name] = Level(before, tuple(zip(_shifted([time for time, _ in changes]), _values(changes), strict=True)))
        early[name] = levels[name] if name in hearing.driven else early[name]
    life = world.life
    if part in hearing.life and life:
        every = LATE_MS if hearing.quiet_ms is None else max(1, min(LATE_MS, hearing.quiet_ms - 1))
        life = tuple(sorted({*life, *_shifted(life), *range(0, LATE_MS, every)}))
    last = world.last
    if isinstance(last, Last) and part in hearing.life and life:
        last = replace(last, late=part, late_ms=LATE_MS)
    late = replace(world, pulses=pulses, life=life, last=last)
    found = [replace(late, levels=one) for one in ([levels] if early == levels else [levels, early])]
    return [*found, *_still_coming(part, world, late, hearing)]


def _still_coming(part: str, world: World, late: World, hearing: Hearing) -> Iterator[World]:
    """Yield worlds in which a late part goes on to report what it saw before the onset, each signal so or not at all.

    As often as it makes a difference: as if it reported in each millisecond until ``LATE_MS``, for every timer.
    """
    coming = sorted(name for name in hearing.heard if _of(part, name) and name not in hearing.driven)
    for picked in product((False, True), repeat=len(coming)):
        names = [name for name, chosen in zip(coming, picked, strict=True) if chosen]
        if not names or (not world.life and not hearing.signs.isdisjoint(names)):
            continue  # what comes in is itself a sign of life
        pulses, levels, life = dict(late.pulses), dict(world.levels), set(late.life)
        for name in names:
            heard = hearing.heard[name]
            # as many as a count waits for; a level begins and ends each time
            times = _often(world, heard, heard.times * (2 if name in levels else 1))
            life |= set(times) if name in hearing.signs else set()
            if name in levels:
                levels[name] = _to_and_fro(levels[name], times)
            else:
                pulses[name] = tuple(sorted({*(time for time in pulses.get(name, ()) if time < 0), *times}))
        told = f"{world.told}; {' and '.join(names)} from before the onset still to come in"
        yield replace(late, told=told, pulses=pulses, levels=levels, life=tuple(sorted(life)))


def _to_and_fro(level: Level, times: Sequence[int]) -> Level:
    """Return a level that turns at each instant, and stays in the end as it does without a fault."""
    stays = level.changes[-1][1] if level.changes else level.before
    ahead = range(len(times), 0, -1)
    turns = zip(times, (stays if left % 2 else FALSE + TRUE - stays for left in ahead), strict=True)
    return Level(level.before, tuple(turns))


def _often(world: World, heard: Heard, times: int) -> list[int]:
    """Return instants up to ``LATE_MS``, so close that no timer sees a gap, and beside all else that happens.

    There are so many ``times`` at each, a millisecond apart.
    """
    every = max(1, min([LATE_MS, *heard.timers_ms]) - times)
    beside = {
        happens + timer + by for happens in world.offsets() for timer in (0, *heard.timers_ms) for by in (-1, 0, 1)
    }
    last = {times - 1, *range(0, LATE_MS, every), *beside, LATE_MS}
    return sorted({one - ago for one in last for ago in range(times) if 0 <= one - ago <= LATE_MS})


def _anchored(late: frozenset[str], world: World, hearing: Hearing) -> list[World]:
    """Return worlds that count from when late parts have said the last of what they saw before the onset.

    Until then they may report anything at any time: to the home it is as if the hazard began only then, but for what
    other parts have to say, which ends at the onset. An alarm that is raised before is only told sooner. A timer that
    other parts started ended just after the onset, or ends just after then.
    """
    signs = (0, LATE_MS) if late & hearing.life else (LATE_MS,)
    own = {name: times for name, times in world.pulses.items() if _part(name) in late}
    moved = {name: tuple(time - LATE_MS for time in times) for name, times in world.pulses.items()}
    still = {
        name: times
        for name, times in world.pulses.items()
        if name not in hearing.driven and times and max(times) <= -LATE_MS
    }
    anchored = replace(
        world,
        pulses=moved | own,
        levels={
            name: level if _part(name) in late else Level(level.before, _moved(level.changes, -LATE_MS))
            for name, level in world.levels.items()
        },
        life=tuple(sorted({time - ago for time in world.life for ago in signs})),
        lost={part: since if since is None else since - LATE_MS for part, since in world.lost.items()},
        late=late,
        after_ms=LATE_MS,
    )
    return [anchored, replace(anchored, pulses=moved | own | still)] if still.keys() - own.keys() else [anchored]


def on_time(world: World) -> World:
    """Return an anchored world as it is for whoever hears none of the late parts: it counts from the onset."""
    by = world.after_ms
    return replace(
        world,
        pulses={name: tuple(time + by for time in times) for name, times in world.pulses.items()},
        levels={name: Level(level.before, _moved(level.changes, by)) for name, level in world.levels.items()},
        life=tuple(time + by for time in [time for time in world.life if time + by in world.life] or world.life),
        lost={part: since if since is None else since + by for part, since in world.lost.items()},
        late=frozenset(),
        after_ms=0,
    )


def _moved(changes: Changes, by: int) -> Changes:
    return tuple((time + by, value) for time, value in changes)


def _shifted(times: Sequence[int]) -> tuple[int, ...]:
    return tuple(time + LATE_MS if time >= 0 else time for time in times)


def _values(changes: Changes) -> list[float]:
    return [value for _, value in changes]
