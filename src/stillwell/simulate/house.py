"""The planned home as somebody walks through it: what rooms are for, and which doors lie between them."""

from collections import deque
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from stillwell.plan.model import Part, Plan

OUTSIDE: Final = ""
"""The room that everything beyond the outside doors is."""


class Use(StrEnum):
    """What a resident goes to a room for."""

    SLEEP = "sleep"
    LIVE = "live"
    COOK = "cook"
    WASH = "wash"
    TOILET = "toilet"
    PASS = "pass"  # noqa: S105 - a way through, no secret
    OUTDOORS = "outdoors"
    OTHER = "other"


_WORDS: Final = (
    (Use.OTHER, ("guest", "spare")),
    (Use.OUTDOORS, ("shed", "garden", "garage", "outbuilding", "outdoor", "outside", "yard", "terrace", "porch")),
    (Use.TOILET, ("toilet", "wc", "lavatory")),
    (Use.WASH, ("bath", "shower", "washroom", "wet room")),
    (Use.SLEEP, ("sleep", "bed")),
    (Use.COOK, ("kitchen", "cook")),
    (Use.LIVE, ("living", "lounge", "sitting", "dining", "parlour", "day room", "live")),
    (Use.PASS, ("hall", "corridor", "landing", "entrance", "entry", "passage", "stair", "lobby", "way")),
)

_INSTEAD: Final[Mapping[Use, tuple[Use, ...]]] = {
    Use.SLEEP: (Use.LIVE, Use.OTHER, Use.COOK, Use.PASS),
    Use.LIVE: (Use.SLEEP, Use.OTHER, Use.COOK, Use.PASS),
    Use.COOK: (Use.LIVE, Use.OTHER, Use.SLEEP, Use.PASS),
    Use.WASH: (Use.TOILET, Use.OTHER, Use.PASS, Use.SLEEP),
    Use.TOILET: (Use.WASH, Use.OTHER, Use.PASS, Use.SLEEP),
    Use.PASS: (Use.LIVE, Use.COOK, Use.SLEEP, Use.OTHER),
    Use.OUTDOORS: (Use.PASS, Use.LIVE, Use.COOK, Use.SLEEP),
    Use.OTHER: (Use.LIVE, Use.SLEEP, Use.COOK, Use.PASS),
}


@dataclass(frozen=True, slots=True)
class Passage:
    """One step of a way: through ``opening`` (empty where the plan draws none) into ``room``."""

    opening: str
    room: str


Way = tuple[Passage, ...]


@dataclass(frozen=True)
class House:
    """Rooms by name with their use, and the shortest way between any two of them and the outside."""

    uses: Mapping[str, Use]
    ways: Mapping[tuple[str, str], Way]
    guest_room: str
    exit_room: str
    """Where coats hang: by an outside door, a hall sooner than a room."""

    def rooms_for(self, use: Use) -> tuple[str, ...]:
        """Name the rooms a resident of this home would use for that; never empty."""
        for candidate in (use, *_INSTEAD[use]):
            rooms = tuple(room for room, own in self.uses.items() if own is candidate)
            if rooms:
                return rooms
        return (_indoors(self.uses)[0],)

    def room_of(self, part: Part, plan: Plan) -> str:
        """Name the room that a part reports from: its own, else one beside its opening, else the first."""
        opening = plan.openings.get(part.opening or "")
        near = [part.room or "", *(opening.rooms if opening else ())]
        return next((room for room in near if room in self.uses), next(iter(self.uses)))


def house_of(plan: Plan) -> House:
    """Read a plan as a house; a plan without rooms is one room.

    Rooms without doors are joined to the hall, sheds and the like to the outside.
    """
    uses = {name: _use_of(f"{room.use} {name}") for name, room in plan.rooms.items()} or {"home": Use.LIVE}
    guests = [name for name, room in plan.rooms.items() if _is_guest(f"{room.use} {name}")]
    doors = [
        (_node(opening.rooms[0], uses), _node(opening.rooms[1], uses), name)
        for name, opening in plan.openings.items()
        if opening.kind == "door"
    ]
    house = House(uses, {}, guest_room="", exit_room="")
    middle = house.rooms_for(Use.PASS)[0]
    doors += [(middle, node, "") for node in _unreached(middle, [*_indoors(uses), OUTSIDE], doors)]
    doors += [(OUTSIDE, node, "") for node in _unreached(OUTSIDE, uses, doors)]
    ways = {(start, room): way for start in (*uses, OUTSIDE) for room, way in _ways_from(start, doors).items()}
    return House(
        uses,
        ways,
        guest_room=guests[0] if guests else house.rooms_for(Use.LIVE)[0],
        exit_room=min(_indoors(uses), key=lambda room: (len(ways[room, OUTSIDE]), uses[room] is not Use.PASS)),
    )


def _indoors(uses: Mapping[str, Use]) -> list[str]:
    """List the rooms but for sheds and the like; all of them where there is nothing else."""
    return [room for room, use in uses.items() if use is not Use.OUTDOORS] or list(uses)


def _use_of(text: str) -> Use:
    words = text.lower().replace("_", " ")
    return next((use for use, marks in _WORDS if any(mark in words for mark in marks)), Use.OTHER)


def _is_guest(text: str) -> bool:
    return "guest" in text.lower() or "spare" in text.lower()


def _node(room: str, uses: Mapping[str, Use]) -> str:
    return room if room in uses else OUTSIDE


Door = tuple[str, str, str]


def _unreached(start: str, nodes: Iterable[str], doors: list[Door]) -> list[str]:
    """Pick one node of each piece of the house that no door joins to ``start``."""
    reached, joins = set(_ways_from(start, doors)), []
    for node in nodes:
        if node not in reached:
            joins.append(node)
            reached |= set(_ways_from(node, doors))
    return joins


def _ways_from(start: str, doors: list[Door]) -> dict[str, Way]:
    """Walk breadth first: the way with the fewest doors to every room that can be reached."""
    ways: dict[str, Way] = {start: ()}
    queue = deque([start])
    while queue:
        here = queue.popleft()
        for one, other, name in doors:
            if here in (one, other):
                there = other if here == one else one
                if there not in ways:
                    ways[there] = (*ways[here], Passage(name, there))
                    queue.append(there)
    return ways
