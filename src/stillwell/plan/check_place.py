"""The place: zone, rooms, openings, parts."""

from collections.abc import Iterator

from stillwell.civiltime import SunTime, find_zone, nearest_zone_names
from stillwell.plan.circles import circles
from stillwell.plan.fault import Fault, Path, Untold
from stillwell.plan.kinds import HEARS_RADIO, HELD, ON_OPENINGS, OUTSIDE
from stillwell.plan.known import unknown_name
from stillwell.plan.loops import placed_rules
from stillwell.plan.model import Part, Plan, Room, Rule
from stillwell.plan.names import nodes
from stillwell.plan.naming import nearest, short
from stillwell.plan.outline import area_m2, first_crossing, overlap_m2
from stillwell.rules.formula import And, At, Between, Formula, Not, OnDays, Or
from stillwell.rules.words import duration_text

MEASURING_SLIP_M2 = 0.05
"""Two rooms that overlap by less are taken to share a wall: a slip of 1 cm along 5 m."""


def check_home(plan: Plan, _untold: Untold) -> Iterator[Fault]:
    """The time zone exists, the night is a matter of the calendar, and the sun has a place to rise at."""
    if find_zone(plan.home.timezone) is None:
        close = nearest_zone_names(short(plan.home.timezone))
        remedy = f"Did you mean {' or '.join(close)}?" if close else 'Write an IANA name such as "Europe/London".'
        what = f'there is no time zone "{short(plan.home.timezone)}"'
        yield Fault(("home", "timezone"), "unknown-zone", what, remedy)
    yield from calendar_only(("home", "night"), plan.home.night)
    if plan.home.position is None:
        sunny = next((path for path, rule in every_rule(plan) if _speaks_of_sun(rule.formula)), None)
        if sunny is not None:
            what = "sunrise and sunset are not known without the position of the home"
            remedy = "Under [home] write position = [degrees north, degrees east]."
            yield Fault(sunny, "position-missing", what, remedy)


def calendar_only(path: Path, rule: Rule) -> Iterator[Fault]:
    """Yield a fault where a formula speaks of more than times of day and weekdays, or is no stretch of time."""
    for node in nodes(rule.formula):
        if not isinstance(node, (Between, OnDays, And, Or, Not)):
            what = "this must be a matter of the calendar alone"
            remedy = "Say it with `between 22:00 and 07:00`, `on sat, sun`, and, or, not."
            if isinstance(node, At):
                what, remedy = "this is a moment, not a stretch of time", "Say `between 08:00 and 09:00`."
            yield Fault(path, "calendar-only", what, remedy, node.at)
            return


def every_rule(plan: Plan) -> Iterator[tuple[Path, Rule]]:
    """Yield every formula of the plan with its path."""
    yield ("home", "night"), plan.home.night
    for name, rule in plan.signals.items():
        yield ("signals", name), rule
    for name, person in plan.people.items():
        if person.reachable is not None:
            yield ("people", name, "reachable"), person.reachable
    for path, each in placed_rules(plan):
        yield (*path, "when"), each.when
        if each.while_ is not None:
            yield (*path, "while"), each.while_
    for number, never in enumerate(plan.never):
        yield ("never", number, "claim"), never.claim


def _speaks_of_sun(formula: Formula) -> bool:
    return any(
        (isinstance(node, Between) and (isinstance(node.start, SunTime) or isinstance(node.end, SunTime)))
        or (isinstance(node, At) and isinstance(node.time, SunTime))
        for node in nodes(formula)
    )


def check_rooms(plan: Plan, untold: Untold) -> Iterator[Fault]:
    """Outlines are simple, rooms of one storey do not overlap, storeys are there."""
    simple: list[tuple[str, Room]] = []
    for name, room in plan.rooms.items():
        path = ("rooms", name)
        if name == OUTSIDE:
            yield Fault(path, "name-taken", '"outside" means out of doors', "Give the room another name.", at_key=True)
        if room.storey >= plan.home.storeys and not untold.covers(("home", "storeys")):
            what = f"there is no storey {room.storey}"
            remedy = f"Storeys count from 0 to {plan.home.storeys - 1}; see storeys under [home]."
            yield Fault((*path, "storey"), "unknown-storey", what, remedy)
        fault = _outline_fault((*path, "outline"), room)
        if fault is not None:
            yield fault
        elif not untold.touches((*path, "outline")):
            simple.append((name, room))
    yield from _overlaps(simple)


def _outline_fault(path: Path, room: Room) -> Fault | None:
    crossing = first_crossing(room.outline)
    if crossing is not None:
        first, second = (number + 1 for number in crossing)
        what = f"the outline crosses or touches itself: the walls after corners {first} and {second} meet"
        if first == second:
            what = f"corner {first} and the next stand in one place"
        return Fault(path, "outline-crosses", what, "Give the corners in order, once around the room.")
    return None


def _overlaps(rooms: list[tuple[str, Room]]) -> Iterator[Fault]:
    for number, (name, room) in enumerate(rooms):
        for other_name, other in rooms[:number]:
            if other.storey != room.storey:
                continue
            shared = overlap_m2(room.outline, other.outline)
            if shared >= MEASURING_SLIP_M2:
                what = f"{name} and {other_name} overlap by about {shared:.1f} m2"
                if shared > 0.99 * min(area_m2(room.outline), area_m2(other.outline)):
                    what += ": one lies in the other"
                remedy = "Shared walls are fine, shared floor is not: move the corners, or give another storey."
                yield Fault(("rooms", name, "outline"), "rooms-overlap", what, remedy)
                break


def check_openings(plan: Plan, untold: Untold) -> Iterator[Fault]:
    """The rooms that an opening joins exist and differ."""
    for name, opening in plan.openings.items():
        path: Path = ("openings", name, "rooms")
        for number, room in enumerate(opening.rooms):
            if room != OUTSIDE:
                yield from unknown_name(plan, untold, (*path, number), "rooms", room)
        if opening.rooms[0] == opening.rooms[1]:
            yield Fault(path, "same-room", "an opening joins two different rooms", 'Or a room and "outside".')


def check_parts(plan: Plan, untold: Untold) -> Iterator[Fault]:
    """Where a part stands exists, what hears it can hear, and its times go together."""
    for name, part in plan.parts.items():
        path: Path = ("parts", name)
        if part.room is not None:
            yield from unknown_name(plan, untold, (*path, "room"), "rooms", part.room)
        if part.opening is not None:
            yield from unknown_name(plan, untold, (*path, "opening"), "openings", part.opening)
        if part.hub is not None:
            yield from _hub_faults(plan, untold, (*path, "hub"), part.hub)
        if not untold.covers((*path, "kind")):
            yield from _kind_faults(path, part)
        if part.heartbeat is not None and part.supervision is not None and part.supervision <= part.heartbeat:
            what = f"it speaks every {duration_text(part.heartbeat)} and counts as lost after no more than that"
            remedy = f"Make supervision longer, at best {duration_text(4 * part.heartbeat)} or more."
            if not untold.covers((*path, "heartbeat")):
                yield Fault((*path, "supervision"), "supervision-too-short", what, remedy)
    yield from _hub_circles(plan)


def _hub_faults(plan: Plan, untold: Untold, path: Path, hub: str) -> Iterator[Fault]:
    if hub not in plan.parts or untold.covers(("parts", hub, "kind")):
        yield from unknown_name(plan, untold, path, "parts", hub)
    elif plan.parts[hub].kind not in HEARS_RADIO:
        hubs = [name for name, part in plan.parts.items() if part.kind in HEARS_RADIO]
        what = f"{hub} is of kind {plan.parts[hub].kind} and hears no other parts"
        yield Fault(path, "hub-kind", what, nearest("", hubs, "Parts that do") or "Add a radio hub.")


def _kind_faults(path: Path, part: Part) -> Iterator[Fault]:
    if part.opening is not None and part.kind not in ON_OPENINGS:
        what = f"a part of kind {part.kind} does not sit on a door or window"
        yield Fault((*path, "opening"), "opening-misfit", what, "Give its room and place instead.")
    if part.kind == "outlet" and part.power != "mains":
        yield Fault((*path, "power"), "power-misfit", "an outlet is on mains", 'Write power = "mains".')
    for key, value in (("hold", part.hold), ("blind", part.blind)):
        if value is not None and part.kind not in HELD:
            what = f"a part of kind {part.kind} has no {key} time"
            yield Fault((*path, key), "hold-misfit", what, "Only movement and vibration have; leave it out.")


def _hub_circles(plan: Plan) -> Iterator[Fault]:
    hubs = {name: [part.hub] for name, part in plan.parts.items() if part.hub is not None}
    for circle in circles(hubs):
        way = " -> ".join(name for name in (*circle, circle[0]))
        what = f"the radio goes in a circle: {way}"
        yield Fault(("parts", circle[0], "hub"), "hub-in-a-circle", what, "The last hub needs no hub of its own.")
