"""What may befall an invented home while it is played live, in words: "collapse at 14:30", "hall_pir lost in 5min"."""

import re
from dataclasses import dataclass
from datetime import timedelta
from typing import Final, Literal, TypeAlias
from zoneinfo import ZoneInfo

from stillwell.civiltime import local_datetime, local_instant
from stillwell.plan.model import Plan
from stillwell.plan.naming import nearest
from stillwell.problem import refuse
from stillwell.proof.catalogue import Onset, onsets
from stillwell.rules.kinds import RuleMistake
from stillwell.rules.parse import parse_duration_ms

SOON_MS: Final = 10 * 60_000
"""When it begins where nobody says when: so long after the start."""

FOR_EVER_MS: Final = 2**62
BROKER: Final = "broker"

How: TypeAlias = Literal["lost", "stuck", "late"]
_HOW: Final[dict[str, How]] = {"lost": "lost", "stuck": "stuck", "late": "late"}

_WORDS: Final = re.compile(
    r"(?P<what>.*?)"
    r"(?:\s+at\s+(?P<at>\d{1,2}:\d{2})|\s+in\s+(?P<in>\S+))?"
    r"(?:\s+for\s+(?P<for>\S+))?\s*",
    re.DOTALL,
)


@dataclass(frozen=True, slots=True)
class Hazard:
    """A hazard that begins at an instant, by one of the ways that the proof knows."""

    name: str
    way: Onset
    at_ms: int


@dataclass(frozen=True, slots=True)
class Break:
    """Parts that are broken for a while (half-open). ``subject`` is what was named."""

    subject: str
    how: How
    parts: frozenset[str]
    at_ms: int
    until_ms: int


def hazard_in_words(plan: Plan, words: str, start_ms: int, zone: ZoneInfo) -> Hazard:
    """Read "collapse at 14:30" or "water in 20min": a hazard of the plan by its name or, where there is one, its kind.

    Without a time it begins 10 minutes after ``start_ms``. Raises Refusal.
    """
    what, at_ms, until_ms = _read(words, start_ms, zone)
    if until_ms != FOR_EVER_MS:
        raise refuse(f'"{words}": a hazard has no end of its own', "Leave out the words from for on.", name="--hazard")
    named = [hazard for hazard in plan.hazard if hazard.name == what] or [
        hazard for hazard in plan.hazard if hazard.kind == what
    ]
    if not named:
        raise refuse(
            f'the plan has no hazard "{what}"',
            nearest(what, [hazard.name for hazard in plan.hazard], "It has"),
            name="--hazard",
        )
    ways = onsets(plan, named[0])
    if not ways:
        raise refuse(f'no part of the plan could ever tell of "{what}"', "Take another one.", name="--hazard")
    return Hazard(named[0].name, ways[0], at_ms)


def break_in_words(plan: Plan, words: str, start_ms: int, zone: ZoneInfo) -> Break:
    """Read "hall_pir lost at 13:00" or "broker lost in 5min for 10min": PART lost, stuck or late. Raises Refusal.

    A hub or controller takes the parts with it that it hears; the broker takes all.
    """
    what, at_ms, until_ms = _read(words, start_ms, zone)
    subject, _, word = what.rpartition(" ")
    how = _HOW.get(word)
    if how is None:
        raise refuse(f'"{words}": nothing is said of how it is broken', 'Say it as in "hall_pir lost".', name="--fault")
    if subject == BROKER:
        if how != "lost":
            raise refuse(f"the broker cannot be {how} here", 'Say "broker lost".', name="--fault")
        return Break(subject, how, frozenset(plan.parts), at_ms, until_ms)
    if subject not in plan.parts:
        raise refuse(
            f'the plan has no part "{subject}"', nearest(subject, [*plan.parts, BROKER], "It has"), name="--fault"
        )
    heard = {name for name, part in plan.parts.items() if part.hub == subject} if how == "lost" else set()
    return Break(subject, how, frozenset({subject, *heard}), at_ms, until_ms)


def _read(words: str, start_ms: int, zone: ZoneInfo) -> tuple[str, int, int]:
    read = _WORDS.fullmatch(words.strip())
    assert read is not None  # the rest is optional
    at_ms = start_ms + SOON_MS
    if read["at"]:
        at_ms = _next(read["at"], start_ms, zone, words)
    elif read["in"]:
        at_ms = start_ms + _duration(read["in"], words)
    until_ms = at_ms + _duration(read["for"], words) if read["for"] else FOR_EVER_MS
    return read["what"].strip(), at_ms, until_ms


def _next(clock: str, start_ms: int, zone: ZoneInfo, words: str) -> int:
    hour, _, minute = clock.partition(":")
    if int(hour) > 23 or int(minute) > 59:
        raise refuse(f'"{words}": {clock} is no time of day', "Say it as in 14:30.")
    today = local_datetime(zone, start_ms).date()
    of_day = int(hour) * 60 + int(minute)
    found = (local_instant(zone, today + timedelta(days), of_day, "start") for days in range(3))
    return next(at_ms for at_ms in found if at_ms >= start_ms)


def _duration(text: str, words: str) -> int:
    try:
        return parse_duration_ms(text)
    except RuleMistake as error:
        raise refuse(f'"{words}": {text} is no duration', "Say it as in 90s, 10min, 3h.") from error
