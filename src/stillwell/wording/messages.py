"""What somebody reads who is told of an alarm: one plain sentence, and a short one for a text message."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final
from zoneinfo import ZoneInfo

from stillwell.plan.model import Plan
from stillwell.wording.counting import listed, times
from stillwell.wording.instants import clock, day, moment
from stillwell.wording.rules import name_alone
from stillwell.wording.vocabulary import spaced

TEXT_LENGTH: Final = 160
"""Characters of one text message in the usual alphabet (3GPP TS 23.038)."""

OVER: Final = "over: "
DRILL: Final = "Drill"


@dataclass(frozen=True, slots=True)
class Told:
    """Somebody else who was told, when; ``reached``: whether the message could be handed over, None: not known yet."""

    name: str
    at_ms: int
    reached: bool | None = None


@dataclass(frozen=True, slots=True)
class Asked:
    """What a message is about. ``kind`` is the kind of hazard, empty for what the watch says of itself.

    ``again``: the same person was told before in this asking. ``over``: it is no longer true.
    """

    alarm: str
    kind: str
    person: str
    at_ms: int
    asked_at_ms: int
    raised_at_ms: int
    drill: bool = False
    again: bool = False
    over: bool = False
    others: tuple[Told, ...] = ()


@dataclass(frozen=True, slots=True)
class Worded:
    """Subject, sentence, and the short form, at most ``TEXT_LENGTH`` long."""

    subject: str
    sentence: str
    short: str


_EMERGENCY_FIRST: Final = frozenset({"smoke", "carbon monoxide"})
EMERGENCY: Final = _EMERGENCY_FIRST | {"collapse", "call for help"}
"""Kinds of hazard in which somebody may have to ring the emergency number."""

_ASK: Final[Mapping[str, str]] = {
    "smoke": "ring {resident}",
    "carbon monoxide": "ring {resident}",
    "collapse": "ring {resident} or look in now",
    "call for help": "ring {resident} or look in now",
    "wandering": "ring {resident} or go out and look now",
    "intrusion": "ring {resident} and ask whether all is well",
    "tampering": "ring {resident} and ask whether all is well",
    "water": "ring {resident} or look in, and turn the water off",
    "cold": "ring {resident} and see that it gets warm",
    "heat": "ring {resident} and see that it gets cooler",
    "no power": "find out why there is no power",
    "blind": "see to it",
}


def worded(plan: Plan, asked: Asked, zone: ZoneInfo) -> Worded:
    """Word a message: what, where, since when, what is asked of the person, who else was told."""
    if not asked.kind:
        return _of_the_watch(plan, asked, zone)
    home, what = plan.home.name, what_it_is(asked.alarm, asked.kind)
    since = since_when(asked.raised_at_ms, asked.at_ms, zone)
    request = _request(plan, asked)
    begin, mark = ("Drill: at", f"{DRILL}: ") if asked.drill else ("At", "")
    others = f"; {_others(asked, zone)}"
    sentence = f'{begin} {home} the alarm "{what}" {_standing(asked, since)}: {request}{others}.'
    return Worded(f"{mark}{what}, {home}", sentence, _short(home, what, since, _short_request(plan, asked), asked))


def what_it_is(alarm: str, kind: str) -> str:
    """Return an alarm's name as people read it; that of a lost part has the part's name in it."""
    return spaced(alarm) if kind == "blind" else alarm


def since_when(at_ms: int, now_ms: int, zone: ZoneInfo) -> str:
    """Write since when: the time of day, with the date where it is not today's."""
    return clock(zone, at_ms) if day(zone, at_ms) == day(zone, now_ms) else moment(zone, at_ms)


def told_when(times_told: int, first_ms: int | None, last_ms: int, now_ms: int, zone: ZoneInfo) -> str:
    """Say when somebody was told: "at 12:09", or "3 times, from 12:00 to 12:09"."""
    last = since_when(last_ms, now_ms, zone)
    if times_told < 2 or first_ms is None:
        return f"at {last}"
    return f"{times(times_told)}, from {since_when(first_ms, now_ms, zone)} to {last}"


def told_sentence(told: Sequence[Told], now_ms: int, zone: ZoneInfo) -> str:
    """Say who was told and when: "Told: Ben at 14:05 and Eve at 14:10"; empty for nobody."""
    names = [f"{name_alone(one.name)} at {since_when(one.at_ms, now_ms, zone)}" for one in told if one.reached]
    missed = [name_alone(one.name) for one in told if one.reached is False]
    texts = [f"Told: {listed(names)}."] if names else []
    texts += [f"Not reached: {listed(missed)}."] if missed else []
    return " ".join(texts)


def _standing(asked: Asked, since: str) -> str:
    if asked.drill:
        return f"is tried out since {since}"
    if asked.over:
        return f"stood since {since} and is over now, but nobody has answered"
    if asked.asked_at_ms > asked.raised_at_ms:
        return f"has stood since {since} and still does"
    return f"has stood since {since}{' and nobody has answered yet' if asked.again else ''}"


def _request(plan: Plan, asked: Asked) -> str:
    if asked.drill:
        return "nothing has happened, please do nothing but answer"
    if _is_resident(plan, asked.person):
        return "please answer whether you are well, and in doubt the emergency number comes first"
    answer = "answer that you are looking after it"
    ask = _ASK[asked.kind].format(resident=name_alone(plan.resident.name))
    doubt = " (in doubt the emergency number comes first)" if asked.kind in EMERGENCY else ""
    if asked.over:
        return f"please make sure that all is well{doubt}, and {answer}"
    if asked.kind in _EMERGENCY_FIRST:
        return f"the emergency number comes first, then please {ask}, and {answer}"
    return f"please {ask}{doubt}, and {answer}"


def _others(asked: Asked, zone: ZoneInfo) -> str:
    with_you = [name_alone(one.name) for one in asked.others if one.at_ms == asked.at_ms and one.reached is not False]
    before = [
        f"{name_alone(one.name)} at {since_when(one.at_ms, asked.at_ms, zone)}"
        for one in asked.others
        if one.at_ms < asked.at_ms and one.reached is not False
    ]
    missed = [name_alone(one.name) for one in asked.others if one.reached is False]
    texts = [f"{listed(with_you)} {'is' if len(with_you) == 1 else 'are'} told too"] if with_you else []
    texts += [f"told before: {listed(before)}"] if before else []
    texts += [f"not reached: {listed(missed)}"] if missed else []
    return "; ".join(texts) or "nobody else has been told yet"


def _short_request(plan: Plan, asked: Asked) -> str:
    if asked.drill:
        return "Nothing has happened, please only answer."
    if _is_resident(plan, asked.person):
        return "Are you well? In doubt the emergency number comes first."
    if asked.over:
        return "Over now, nobody answered. Please make sure that all is well."
    ask = _ASK[asked.kind].format(resident=_cut(name_alone(plan.resident.name), 24))
    if asked.kind in _EMERGENCY_FIRST:
        return f"The emergency number comes first, then {ask}."
    doubt = " In doubt the emergency number comes first." if asked.kind in EMERGENCY else ""
    return f"Please {ask}.{doubt}"


def _short(home: str, what: str, since: str, request: str, asked: Asked) -> str:
    """Put the short form together; whoever else was told is left out first, then long names are cut."""
    mark = f"{DRILL}: " if asked.drill else ""
    text = f"{mark}{home}: {what} since {since}. {request}"
    names = [name_alone(one.name) for one in asked.others if one.reached is not False]
    for count in (len(names), 1):
        more = f" and {len(names) - count} more" if count < len(names) else ""
        whole = f"{text} Also told: {', '.join(names[:count])}{more}."
        if names and len(whole) <= TEXT_LENGTH:
            return whole
    room = TEXT_LENGTH - (len(text) - len(home) - len(what))
    if len(text) <= TEXT_LENGTH:
        return text
    home = _cut(home, max(room // 3, room - len(what)))
    return f"{mark}{home}: {_cut(what, room - len(home))} since {since}. {request}"


def _cut(text: str, length: int) -> str:
    return text if len(text) <= length else text[: max(length - 2, 1)].rstrip() + ".."


def _of_the_watch(plan: Plan, asked: Asked, zone: ZoneInfo) -> Worded:
    home, since = plan.home.name, since_when(asked.raised_at_ms, asked.at_ms, zone)
    over = asked.alarm.startswith(OVER)
    what = asked.alarm.removeprefix(OVER)
    others = _others(asked, zone)
    if over:
        sentence = f'The watch at {home} says at {since} that "{what}" is over; nothing is asked of you; {others}.'
        short = f"{home}: over at {since}: {what}."
    else:
        sentence = f'The watch at {home} says at {since} what ails it: "{what}"; please look into it; {others}.'
        short = f"{home}: since {since} the watch has this trouble: {what}. Please look into it."
    return Worded(f"{asked.alarm}, the watch at {home}", sentence, _cut(short, TEXT_LENGTH))


def _is_resident(plan: Plan, person: str) -> bool:
    known = plan.people.get(person)
    return known is not None and name_alone(known.name) == name_alone(plan.resident.name)
