"""The first thing that somebody reads who asks whether all is well."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal
from zoneinfo import ZoneInfo

from stillwell.plan.model import Part, Plan
from stillwell.wording.counting import counted, listed, some
from stillwell.wording.durations import rounded
from stillwell.wording.instants import clock, day, moment
from stillwell.wording.messages import EMERGENCY, since_when
from stillwell.wording.vocabulary import spaced, the

State = Literal["well", "unanswered", "answered", "paused", "less", "blind", "unwatched"]
"""How a home stands: ``less``: some part is lost; ``blind``: nothing that shows life is heard, or the watch is ill;
``unwatched``: no watch answers."""

WORDS: Final[dict[State, str]] = {
    "well": "Well",
    "unanswered": "Unanswered",
    "answered": "Looked after",
    "paused": "Paused",
    "less": "Sees less",
    "blind": "Blind",
    "unwatched": "No watch",
}
"""One word for each state, beside its mark."""

EMERGENCY_FIRST: Final = "If somebody is in danger, the emergency number comes first."

_PARTS: Final = {
    "movement": "movement detector",
    "contact": "contact",
    "vibration": "vibration detector",
    "pressure": "pressure mat",
    "water": "water detector",
    "smoke": "smoke detector",
    "carbon monoxide": "carbon monoxide detector",
    "temperature": "thermometer",
    "air": "air sensor",
    "wearable call button": "call button",
}
_MOST_NAMES: Final = 3


@dataclass(frozen=True, slots=True)
class Rings:
    """An alarm that is not normal, drills left out. ``state`` in the words of ISA-18.2; ``by`` is a name.

    ``well``: whoever answered says that all is well.
    """

    what: str
    kind: str
    state: str
    raised_ms: int
    by: str = ""
    well: bool = False


@dataclass(frozen=True, slots=True)
class Unseen:
    """A lost part in words, as in "the movement detector in the hall", and since when."""

    what: str
    since_ms: int


@dataclass(frozen=True, slots=True)
class Sign:
    """The last sign of life: when, and in which room (empty: not in a room)."""

    at_ms: int
    room: str


@dataclass(frozen=True, slots=True)
class Glance:
    """What the first sentences are made from. Instants are milliseconds UTC, ``resident`` a name.

    ``watched``: a watch answers; else ``until_ms`` is how far the store goes, None where there is none.
    ``trouble`` ails the watch itself; ``states`` are those of the home that are not as usual, with their values.
    ``blind``: why nothing that shows life is seen, and since when. ``sign`` is None where none was ever seen.
    """

    resident: str
    now_ms: int
    zone: ZoneInfo
    watched: bool = True
    until_ms: int | None = None
    rings: Sequence[Rings] = ()
    unseen: Sequence[Unseen] = ()
    blind: Unseen | None = None
    sign: Sign | None = None
    trouble: Sequence[Unseen] = ()
    states: Sequence[tuple[str, str]] = ()
    paused_until_ms: int | None = None
    paused_by: str = ""
    paused_why: str = ""


@dataclass(frozen=True, slots=True)
class Headline:
    """How the home stands: a word for it, the sentence that matters most, and what else there is to say."""

    state: State
    word: str
    sentence: str
    more: tuple[str, ...]


def headline(glance: Glance) -> Headline:
    """Say how the home stands. What waits for somebody's answer comes first, then what the watch cannot see."""
    asking = [one for one in glance.rings if one.state in {"unacknowledged", "returned to normal unacknowledged"}]
    answered = [one for one in glance.rings if one.state == "acknowledged"]
    asks = [one for one in asking if one.kind != "blind"]
    more = [_sign(glance), *(f"{_begun(spaced(name))} is {spaced(value)}." for name, value in glance.states)]
    if not glance.watched:
        return _headline("unwatched", *_unwatched(glance))
    if asks:
        return _headline("unanswered", _asking(asks, glance), [*_danger(asks), *more, *_sight(glance)])
    if glance.blind is not None:
        first = f"The watch has been blind since {_when(glance, glance.blind.since_ms)}."
        why = f"{_begun(glance.blind.what)}. If something happened to {glance.resident} now, no alarm would tell of it."
        return _headline("blind", first, [why, *more, f"Please ring {glance.resident}, or look in."])
    looked_after = [one for one in answered if one.kind != "blind"]
    if looked_after:
        return _headline("answered", _looked_after(looked_after, glance), [*more, *_sight(glance)])
    if glance.paused_until_ms is not None:
        return _headline("paused", *_paused(glance, more))
    if glance.unseen or glance.trouble:
        what = "the watch sees less than it should" if glance.unseen else "the watch itself is not well"
        return _headline("less", f"No alarm, but {what}.", [*_sight(glance), *more])
    aside = [one for one in glance.rings if one.state in {"shelved", "out of service"}]
    rest = [f"Set aside by hand: {listed([f'“{one.what}”' for one in aside])}."] if aside else []
    return _headline("well", "Nothing to worry about.", [*more, "Everything that should report has reported.", *rest])


def part_name(name: str, part: Part) -> str:
    """Say which part it is, for somebody who did not put it up: "the movement detector in the hall"."""
    if part.kind in {"radio hub", "controller"}:
        return f"the {part.kind}"
    what = _PARTS.get(part.kind, part.kind)
    if part.opening is not None:
        return f"the {what} at {the(part.opening)}"
    return f"the {what} in {the(part.room)}" if part.room is not None else the(name)


def unseen_sentence(unseen: Unseen, now_ms: int, zone: ZoneInfo) -> str:
    """Say that a part is lost and since when: "The contact at the back door has been silent since 07:40 (3 h)."."""
    since = since_when(unseen.since_ms, now_ms, zone)
    lasted = rounded(max(now_ms - unseen.since_ms, 0) // 60_000 * 60_000)
    return f"{_begun(unseen.what)} has been out of touch since {since}, for {lasted}."


def lost_sentence(plan: Plan, part: str, with_it: Sequence[str]) -> str:
    """Say that a part is lost, what is lost with it, and what is not seen for it."""
    known = plan.parts.get(part)
    what = spaced(part) if known is None else part_name(part, known)
    text = f"{_begun(what)} is out of touch ({part})"
    rooms = [room for name in (part, *with_it) if (room := _watched_room(plan, name))]
    if with_it:
        text += f", and with it {counted(len(with_it), 'part')} that it hears"
    unseen = f" What happens in {listed([the(room) for room in dict.fromkeys(rooms)])} is not seen." if rooms else ""
    return f"{text}.{unseen}"


def _watched_room(plan: Plan, part: str) -> str:
    known = plan.parts.get(part)
    return known.room or "" if known is not None and known.kind == "movement" else ""


def next_sentence(names: Sequence[str], channel: str, at_ms: int, now_ms: int, zone: ZoneInfo) -> str:
    """Say whom the call list turns to next."""
    if not names:
        return ""
    return f"If nobody answers by {since_when(at_ms, now_ms, zone)}, {listed(list(names))} will be told by {channel}."


def age_sentence(at_ms: int, zone: ZoneInfo) -> str:
    """Say how old a page is that does not renew itself."""
    return f"This is how it stood on {moment(zone, at_ms)}."


def _headline(state: State, sentence: str, more: Sequence[str]) -> Headline:
    return Headline(state, WORDS[state], sentence, tuple(line for line in more if line))


def _asking(asks: Sequence[Rings], glance: Glance) -> str:
    oldest = min(asks, key=lambda one: one.raised_ms)
    since = _when(glance, oldest.raised_ms)
    if len(asks) > 1:
        names = some([f"“{one.what}”" for one in sorted(asks, key=lambda one: one.raised_ms)], _MOST_NAMES)
        return f"{counted(len(asks), 'alarm')}, the oldest since {since}, and nobody has answered yet: {names}."
    if oldest.state == "returned to normal unacknowledged":
        return f"“{oldest.what}” stood since {since} and is over by itself, but nobody has answered yet."
    return f"“{oldest.what}” since {since}, and nobody has answered yet."


def _looked_after(rings: Sequence[Rings], glance: Glance) -> str:
    pieces = []
    for one in rings:
        since = _when(glance, one.raised_ms)
        if one.well:
            pieces.append(f"{one.by} says that all is well; “{one.what}” is still so, since {since}")
        else:
            pieces.append(f"{one.by} is looking after “{one.what}”, since {since}")
    return f"{listed(pieces)}."


def _danger(asks: Sequence[Rings]) -> list[str]:
    return [EMERGENCY_FIRST] if any(one.kind in EMERGENCY for one in asks) else []


def _sign(glance: Glance) -> str:
    if glance.sign is None:
        return "No sign of life has been seen yet."
    room = f", {spaced(glance.sign.room)}" if glance.sign.room else ""
    return f"Last sign of life {_when(glance, glance.sign.at_ms)}{room}."


def _sight(glance: Glance) -> list[str]:
    if glance.blind is not None:
        return [f"The watch has been blind since {_when(glance, glance.blind.since_ms)}: {glance.blind.what}."]
    ails = [f"{_begun(one.what)}, since {_when(glance, one.since_ms)}." for one in glance.trouble]
    if not glance.unseen:
        return ails
    if len(glance.unseen) == 1:
        return [unseen_sentence(glance.unseen[0], glance.now_ms, glance.zone), *ails]
    first = min(one.since_ms for one in glance.unseen)
    names = some([one.what for one in glance.unseen], _MOST_NAMES)
    parts = counted(len(glance.unseen), "part")
    return [f"{parts} are out of touch, the first since {_when(glance, first)}: {names}.", *ails]


def _paused(glance: Glance, more: Sequence[str]) -> tuple[str, list[str]]:
    assert glance.paused_until_ms is not None
    why = f" ({glance.paused_why})" if glance.paused_why else ""
    rings = f"Until then no alarm about {glance.resident} rings; smoke, gas, water, no power and a call for help do."
    first = f"The watch is paused until {_when(glance, glance.paused_until_ms)}."
    return first, [f"Paused by {glance.paused_by}{why}. {rings}", *more, *_sight(glance)]


def _unwatched(glance: Glance) -> tuple[str, list[str]]:
    if glance.until_ms is None:
        return "There is a plan of this home, but no watch.", [
            f"So this page cannot say how {glance.resident} is.",
            "Its other pages show what the plan holds, and what can be proved of it.",
        ]
    until = _when(glance, glance.until_ms)
    return "No watch answers here.", [
        f"So this page cannot say whether all is well, and nothing can be answered from it. The store ends at {until}.",
        _sign(glance),
    ]


def _when(glance: Glance, at_ms: int) -> str:
    """The time of day, with the day before it where it is not today's."""
    if day(glance.zone, at_ms) == day(glance.zone, glance.now_ms):
        return clock(glance.zone, at_ms)
    if day(glance.zone, at_ms) == day(glance.zone, glance.now_ms - 86_400_000):
        return f"yesterday {clock(glance.zone, at_ms)}"
    return moment(glance.zone, at_ms)


def _begun(text: str) -> str:
    return text[:1].upper() + text[1:]
