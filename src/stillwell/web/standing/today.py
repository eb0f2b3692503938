"""What the page Today shows: whether all is well, whether the watch can see, what waits for somebody."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import ClassVar, Final
from zoneinfo import ZoneInfo

from stillwell.charts.day_strip import DayStrip, drawing, hours
from stillwell.control.shapes import Alarm, Do, Status, Told
from stillwell.plan.model import Plan
from stillwell.plan.names import base_signals_of_life
from stillwell.web.standing.day import Day, part_alarms, strip_of
from stillwell.wording import today as words
from stillwell.wording.cautions import CAUTION
from stillwell.wording.instants import margin, moment
from stillwell.wording.logbook import entry
from stillwell.wording.messages import since_when, told_when
from stillwell.wording.rules import name_alone

ASKING: Final = frozenset({"unacknowledged", "returned to normal unacknowledged"})
ASIDE: Final = frozenset({"shelved", "out of service"})
MOST_LINES: Final = 40
NO_BROKER: Final = "no connection to the broker"


@dataclass(frozen=True, slots=True)
class Line:
    """An entry of a log: when, as the clock shows it, what, and the kind of thing it is about."""

    at: str
    text: str
    about: str = ""


@dataclass(frozen=True, slots=True)
class Deed:
    """Something that can be done with one press."""

    do: Do
    label: str


@dataclass(frozen=True, slots=True)
class Ring:
    """An alarm that is not normal: how it stands, who was told, what was answered, what can be done.

    ``about``: "resident", or "sight" where it tells of a lost part.
    """

    name: str
    what: str
    state: str
    word: str
    drill: bool
    about: str
    sentence: str
    log: tuple[Line, ...]
    next: str
    deeds: tuple[Deed, ...]


@dataclass(frozen=True, slots=True)
class Today:
    """How a home stands. ``live``: a watch answers and can be asked to do things."""

    home: str
    state: words.State
    word: str
    sentence: str
    more: tuple[str, ...]
    rings: tuple[Ring, ...]
    unseen: tuple[Line, ...]
    strip: DayStrip | None
    log: tuple[Line, ...]
    paused: str
    alarms: tuple[str, ...]
    as_of: str
    as_of_ms: int | None
    timezone: str
    live: bool
    caution: str = CAUTION

    title: ClassVar[str] = "Today"
    template: ClassVar[str] = "today.html"
    place: ClassVar[str] = "today"

    @property
    def foremost(self) -> Ring | None:
        """The alarm that the first sentence speaks of, where it speaks of one: what can be done stands right there."""
        if self.state not in {"unanswered", "answered"}:
            return None
        word = "Unanswered" if self.state == "unanswered" else "Looked after"
        rings = [one for one in self.rings if one.word == word and not one.drill and one.about == "resident"]
        return rings[0] if len(rings) == 1 else None

    @property
    def rows(self) -> list[tuple[str, str, str]]:
        """The lines of the strip: name, words, drawing."""
        strip = self.strip
        return [] if strip is None else [(_begun(row.name), row.said, drawing(row, strip)) for row in strip.rows]

    @property
    def hours(self) -> str:
        """The line of hours below the strip."""
        return "" if self.strip is None else hours(self.strip, ZoneInfo(self.timezone))


def today(plan: Plan, status: Status | None, day: Day | None, now_ms: int, *, live: bool, whole: bool) -> Today:
    """Return how a home stands. ``whole``: with what shows how somebody lives, which a responder does not see."""
    zone = ZoneInfo(plan.home.timezone)
    lost = {} if status is None else {one.name: one.lost_ms for one in status.parts if one.lost_ms is not None}
    head = words.headline(_glance(plan, status, lost, now_ms, zone, live=live))
    rings = () if status is None else tuple(_rings(status, now_ms, zone, live=live))
    strip = strip_of(day, plan, lost) if whole and day is not None else None
    return Today(
        plan.home.name,
        head.state,
        head.word,
        head.sentence,
        head.more,
        rings,
        tuple(_unseen(plan, status, lost, now_ms, zone)),
        strip,
        tuple(_log(plan, day, now_ms, zone)) if whole and day is not None else (),
        _paused(plan, status, now_ms, zone),
        tuple(alarm.name for alarm in plan.alarm),
        "" if status is None else moment(zone, status.now_ms if live else status.decided_ms),
        None if status is None else status.now_ms if live else status.decided_ms,
        plan.home.timezone,
        live,
    )


def _glance(
    plan: Plan, status: Status | None, lost: Mapping[str, int], now_ms: int, zone: ZoneInfo, *, live: bool
) -> words.Glance:
    resident = name_alone(plan.resident.name)
    if status is None:
        return words.Glance(resident, now_ms, zone, watched=False)
    unseen = [
        words.Unseen(words.part_name(name, plan.parts[name]), ms) for name, ms in lost.items() if name in plan.parts
    ]
    rings = [
        words.Rings(one.what, one.kind, one.state, one.raised_ms or status.now_ms, one.by_name or "", _said_well(one))
        for one in status.alarms
        if not one.drill
    ]
    pause, sign = status.pause, status.last_sign
    return words.Glance(
        resident,
        now_ms,
        zone,
        watched=live,
        until_ms=status.decided_ms,
        rings=rings,
        unseen=unseen,
        blind=blindness(plan, status, lost),
        trouble=[words.Unseen(one.what, one.since_ms) for one in status.trouble if one.what != NO_BROKER],
        states=[
            (one.name, one.value)
            for one in status.states
            if one.settable and one.name in plan.states and one.value not in {"", plan.states[one.name].initial}
        ],
        sign=None if sign is None else words.Sign(sign.at_ms, sign.room or ""),
        paused_until_ms=None if pause is None else pause.until_ms,
        paused_by="" if pause is None else _name(pause.by, plan),
        paused_why="" if pause is None else pause.why,
    )  # fmt: skip


def blindness(plan: Plan, status: Status, lost: Mapping[str, int]) -> words.Unseen | None:
    """Tell why nothing that shows life is heard, and since when; None while something is.

    A part behind a lost hub is not heard, even before it counts as lost itself.
    """
    for trouble in status.trouble:
        if trouble.what == NO_BROKER:
            return words.Unseen("there is no connection to the broker, so that no report comes in", trouble.since_ms)
    parts = {signal.partition(".")[0] for signal in base_signals_of_life(plan)}
    silent = {part: since for part in parts if (since := _silent_since(plan, part, lost)) is not None}
    if not parts or len(silent) < len(parts):
        return None
    return words.Unseen("nothing is heard from any part that shows signs of life", max(silent.values()))


def _silent_since(plan: Plan, part: str, lost: Mapping[str, int]) -> int | None:
    times, name, seen = [], part, set[str]()
    while name in plan.parts and name not in seen:
        seen.add(name)
        times += [lost[name]] if name in lost else []
        name = plan.parts[name].hub or ""
    return min(times, default=None)


def _rings(status: Status, now_ms: int, zone: ZoneInfo, *, live: bool) -> Iterable[Ring]:
    def rank(one: Alarm) -> tuple[bool, bool, bool, int]:
        return one.drill, one.state not in ASKING, one.kind == "blind", one.raised_ms or 0

    for one in sorted(status.alarms, key=rank):
        told = [
            (at_ms, Line(margin(zone, at_ms, now_ms), _told(row, now_ms, zone), "told"))
            for row in one.told
            for at_ms in [row.sent_ms or row.at_ms]
        ]
        said = [(row.at_ms, Line(margin(zone, row.at_ms, now_ms), _SAID[row.word].format(row.name), "said"))
                for row in one.said if row.word in _SAID]  # fmt: skip
        log = tuple(line for _, line in sorted(told + said, key=lambda pair: pair[0]))
        coming = one.next
        following = (
            "" if coming is None else words.next_sentence(coming.names, coming.channel, coming.at_ms, now_ms, zone)
        )
        deeds = _deeds(one) if live else ()
        about = "sight" if one.kind == "blind" else "resident"
        yield Ring(one.name, one.what, one.state, _word(one), one.drill, about, one.sentence, log, following, deeds)


_SAID: Final = {
    "looking": "{} is looking after it.",
    "well": "{} says that all is well.",
    "cannot": "{} cannot look after it.",
}


def _told(row: Told, now_ms: int, zone: ZoneInfo) -> str:
    why = f": {row.why}" if row.why else ""
    if row.sent_ms is not None:
        often = row.times > 1 and row.first_ms is not None  # once: the time stands in the margin
        when = f" {told_when(row.times, row.first_ms, row.sent_ms, now_ms, zone)}" if often else ""
        return f"{row.name} was told by {row.channel}{when}."
    if row.attempts:
        return f"{row.name} could not be told by {row.channel} yet{why}."
    return f"{row.name} is to be told by {row.channel}{why}."


def _word(one: Alarm) -> str:
    if one.state in ASKING:
        return "Unanswered"
    return "Looked after" if one.state == "acknowledged" else "Set aside"


def _said_well(one: Alarm) -> bool:
    """Whether the last that was answered is that all is well."""
    return bool(one.said) and max(one.said, key=lambda row: row.at_ms).word == "well"


def _deeds(one: Alarm) -> tuple[Deed, ...]:
    if one.state in ASKING:
        if one.drill:
            return (Deed("acknowledge", "I have heard it"),)
        return Deed("acknowledge", "I am looking after it"), Deed("clear", "All is well")
    if one.state == "acknowledged":
        well = () if _said_well(one) else (Deed("clear", "All is well"),)
        return (*well, Deed("cannot", "I cannot after all"))
    return (Deed("back", "Put it back"),)


def _unseen(plan: Plan, status: Status | None, lost: Mapping[str, int], now_ms: int, zone: ZoneInfo) -> Iterable[Line]:
    if status is None:
        return
    behind = {name: hub for name in lost if (hub := _lost_hub(plan, name, lost))}
    for name, since_ms in sorted(lost.items(), key=lambda pair: pair[1]):
        if name not in behind:
            with_it = [one for one, hub in behind.items() if hub == name]
            yield Line(margin(zone, since_ms, now_ms), words.lost_sentence(plan, name, with_it))
    for trouble in status.trouble:
        yield Line(margin(zone, trouble.since_ms, now_ms), f"{_begun(trouble.what)}.")
    keeper = status.keeper
    if keeper is not None and not keeper.answers:
        when = "" if keeper.answered_ms is None else margin(zone, keeper.answered_ms, now_ms)
        yield Line(when, "The keeper outside does not answer: if this home went dark, nobody would notice.")


def _lost_hub(plan: Plan, part: str, lost: Mapping[str, int]) -> str:
    """The first hub on a part's way, seen from the controller, that is lost; empty where none is."""
    found, name, seen = "", part, {part}
    while (name := plan.parts[name].hub or "" if name in plan.parts else "") and name not in seen:
        seen.add(name)
        found = name if name in lost else found
    return found


def _log(plan: Plan, day: Day, now_ms: int, zone: ZoneInfo) -> Iterable[Line]:
    parts = part_alarms(plan)
    found = []
    for fact in reversed(day.facts):
        made = entry(fact.what, fact.subject, fact.by_whom, fact.why, plan, parts)
        if made is not None and made.about != "aid":
            found.append(Line(margin(zone, fact.at_ms, now_ms), made.sentence, made.about))
        if len(found) >= MOST_LINES:
            break
    return found


def _paused(plan: Plan, status: Status | None, now_ms: int, zone: ZoneInfo) -> str:
    if status is None or status.pause is None:
        return ""
    pause = status.pause
    why = f" ({pause.why})" if pause.why else ""
    return f"Paused by {_name(pause.by, plan)} until {since_when(pause.until_ms, now_ms, zone)}{why}."


def _begun(text: str) -> str:
    return text[:1].upper() + text[1:]


def _name(person: str, plan: Plan) -> str:
    known = plan.people.get(person)
    return name_alone(known.name) if known is not None else person
