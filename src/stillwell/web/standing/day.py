"""The last day and night of a home out of its store: what moved, what opened, what happened. Renewed by what is new."""

import re
from collections import deque
from dataclasses import dataclass, field
from typing import Final
from zoneinfo import ZoneInfo

from stillwell.charts.day_strip import DayStrip, Event, Row, event_row, room_row
from stillwell.civiltime import Span
from stillwell.plan.model import Part, Plan
from stillwell.replay.hours import nights
from stillwell.store.rows import EventRow, FactRow
from stillwell.store.store import Store
from stillwell.wording.today import part_name
from stillwell.wording.vocabulary import spaced

DAY_MS: Final = 86_400_000
GRID_MS: Final = 300_000
"""The strip ends at a five-minute mark, so that it does not creep."""
MOST_FACTS: Final = 2_000

_MOVES: Final = frozenset({"movement", "vibration", "occupied", "pressed"})
_LEFT_OFF: Final = re.compile(r"it left off (\d+) s ago")


@dataclass
class Day:
    """What a store holds of the last 24 hours, in order of time."""

    events: deque[EventRow] = field(default_factory=deque)
    facts: list[FactRow] = field(default_factory=list)
    until_ms: int = 0
    _seq: int = -1

    def renew(self, store: Store, until_ms: int) -> None:
        """Read on, up to ``until_ms``; what is older than a day goes. Raises StoreTrouble."""
        from_ms = until_ms - DAY_MS - GRID_MS
        if self._seq < 0 or until_ms < self.until_ms:
            self.events.clear()
            self._seq = store.last_seq()
            self.events.extend(store.events_between(from_ms, until_ms + DAY_MS))
        else:
            for row in store.events_after(self._seq):
                self.events.append(row)
                self._seq = max(self._seq, row.seq)
        while self.events and self.events[0].at_ms < from_ms:
            self.events.popleft()
        self.facts = store.facts(from_ms, until_ms + 1, MOST_FACTS)
        self.until_ms = until_ms


def strip_of(day: Day, plan: Plan, lost: dict[str, int]) -> DayStrip:
    """Return the strip of a day. ``lost`` says of each part that is lost now, since when."""
    end = -(-day.until_ms // GRID_MS) * GRID_MS
    span, zone = (end - DAY_MS, end), ZoneInfo(plan.home.timezone)
    moved: dict[str, list[int]] = {name: [] for name in _rooms(plan)}
    opened: list[Event] = []
    for event in day.events:
        part_of, _, word = event.signal.partition(".")
        part = plan.parts.get(part_of)
        if part is None or event.late:
            continue
        if word in _MOVES and event.value != 0 and part.room in moved:
            moved[part.room].append(event.at_ms)
        elif word == "open" and event.value and _outside(part, plan):
            opened.append(Event(event.at_ms, f"{spaced(part.opening or part_of)} opened"))
    dark = _unwatched(day)
    unseen = _unseen(day, plan, lost)
    rows = [room_row(spaced(room), times, [*dark, *unseen.get(room, ())], span, zone) for room, times in moved.items()]
    return DayStrip(span, tuple(nights(plan, span)), (*rows, *_lines(day, plan, opened, span, zone)))


def part_alarms(plan: Plan) -> dict[str, str]:
    """Return, of each alarm that tells of a lost part, the part in words."""
    return {lost_alarm(name): part_name(name, part) for name, part in plan.parts.items()}


def lost_alarm(part: str) -> str:
    """Return what the alarm is called that tells of a lost part."""
    return f"{part} has stopped reporting"


def _lines(day: Day, plan: Plan, opened: list[Event], span: Span, zone: ZoneInfo) -> list[Row]:
    of_parts = part_alarms(plan)
    raised = [
        Event(fact.at_ms, fact.subject)
        for fact in day.facts
        if fact.what == "raised" and fact.subject not in of_parts and not fact.subject.startswith("drill: ")
    ]
    rows = [event_row("doors", "doors", opened, span, zone)] if any(
        _outside(part, plan) for part in plan.parts.values()
    ) else []  # fmt: skip
    return [*rows, event_row("alarms", "alarms", raised, span, zone)]


def _rooms(plan: Plan) -> list[str]:
    """The rooms in which something can be seen to move, in the plan's order."""
    seen = {
        part.room for part in plan.parts.values() if part.kind in {"movement", "vibration", "pressure", "push button"}
    }
    return [room for room in plan.rooms if room in seen]


def _outside(part: Part, plan: Plan) -> bool:
    opening = plan.openings.get(part.opening or "")
    return part.kind == "contact" and opening is not None and "outside" in opening.rooms


def _unwatched(day: Day) -> list[Span]:
    """The stretches in which no watch ran, by what the watch wrote when it started again."""
    found = []
    for fact in day.facts:
        left = _LEFT_OFF.search(fact.why) if fact.what == "watch started" else None
        if left is not None and int(left[1]) > 60:
            found.append((fact.at_ms - int(left[1]) * 1000, fact.at_ms))
    return found


def _unseen(day: Day, plan: Plan, lost: dict[str, int]) -> dict[str, list[Span]]:
    """The stretches in which every part that sees movement in a room was lost."""
    by_part: dict[str, list[Span]] = {}
    names = {lost_alarm(part): part for part in plan.parts}
    open_since: dict[str, int] = {}
    for fact in day.facts:
        part = names.get(fact.subject, "")
        if part and fact.what == "raised":
            open_since[part] = fact.at_ms
        elif part and fact.what == "returned to normal":
            by_part.setdefault(part, []).append((open_since.pop(part, 0), fact.at_ms))
    for part, since_ms in lost.items():
        by_part.setdefault(part, []).append((since_ms, day.until_ms + GRID_MS))
    found: dict[str, list[Span]] = {}
    for room in _rooms(plan):
        seeing = [
            name for name, part in plan.parts.items() if part.room == room and part.kind in {"movement", "pressure"}
        ]
        if seeing:
            found[room] = _all_of([by_part.get(name, []) for name in seeing])
    return found


def _all_of(every: list[list[Span]]) -> list[Span]:
    common = every[0]
    for spans in every[1:]:
        common = [(max(a, c), min(b, d)) for a, b in common for c, d in spans if max(a, c) < min(b, d)]
    return common
