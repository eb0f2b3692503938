"""How things stand, for a status: an alarm, a lost part, input that could not be used, the home as a whole."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final
from zoneinfo import ZoneInfo

from stillwell.wording.counting import counted, listed, some
from stillwell.wording.messages import since_when
from stillwell.wording.vocabulary import spaced

QUIET: Final = "All is quiet."
_MOST_NAMED: Final = 3

_UNREAD: Final = {
    "a part that the plan does not know": "from a part that the plan does not know",
    "a signal that the part does not have": "with a signal that the part does not have",
    "too long": "that were too long",
    "not readable as text": "that cannot be read as text",
    "not readable as JSON": "that cannot be read as JSON",
    "the value is not where the plan says": "without a value where the plan says it stands",
    "a value that means nothing known": "with a value that means nothing known",
    "kept by the broker from earlier": "that the broker had kept from earlier",
    "stamped with an impossible time": "stamped with an impossible time",
}


@dataclass(frozen=True, slots=True)
class Stands:
    """An alarm that is not normal: ``state`` in the words of ISA-18.2, instants in milliseconds UTC."""

    what: str
    state: str
    true_now: bool
    drill: bool = False
    raised_ms: int | None = None
    asked_ms: int | None = None
    acknowledged_ms: int | None = None
    by: str = ""
    until_ms: int | None = None


def alarm_sentence(one: Stands, now_ms: int, zone: ZoneInfo) -> str:
    """Say how an alarm stands."""

    def when(at_ms: int | None) -> str:
        return "an unknown hour" if at_ms is None else since_when(at_ms, now_ms, zone)

    name = f'The drill of "{one.what}"' if one.drill else f'"{one.what}"'
    still = f"; it is true since {when(one.raised_ms)}" if one.true_now else ""
    match one.state:
        case "shelved":
            return f"{name} is set aside until {when(one.until_ms)}, by {one.by}{still}."
        case "out of service":
            return f"{name} is out of service until somebody puts it back, by {one.by}{still}."
        case "acknowledged":
            looking = f"{one.by} has been looking after it since {when(one.acknowledged_ms)}"
            return f"{name} has stood since {when(one.raised_ms)}; {looking}."
        case "returned to normal unacknowledged" if not one.drill:
            return f"{name} stood since {when(one.raised_ms)} and is over by itself, but nobody has answered yet."
    asked = one.asked_ms is not None and one.raised_ms is not None and one.asked_ms > one.raised_ms
    again = f", was asked again at {when(one.asked_ms)}" if asked else ""
    stood = "rung" if one.drill else "stood"
    return f"{name} has {stood} since {when(one.raised_ms)}{again}, and nobody has answered yet."


def part_sentence(part: str, heard_ms: int | None, lost_ms: int | None, now_ms: int, zone: ZoneInfo) -> str:
    """Say when a part was last heard, and since when it counts as lost."""
    name = _begun(spaced(part))
    heard = "has never been heard" if heard_ms is None else f"was last heard at {since_when(heard_ms, now_ms, zone)}"
    if lost_ms is None:
        return f"{name} {heard}."
    return f"{name} {heard} and counts as lost since {since_when(lost_ms, now_ms, zone)}."


def unread_sentence(reason: str, source: str, times: int, last_ms: int, now_ms: int, zone: ZoneInfo) -> str:
    """Say how much could not be used: "3 messages from a part that the plan does not know (radio/x), last at 14:05"."""
    words = _UNREAD.get(reason, reason)
    if times == 1:
        words = words.replace("that were", "that was")
    return f"{counted(times, 'message')} {words} ({source}), last at {since_when(last_ms, now_ms, zone)}"


def pause_sentence(until_ms: int, by: str, why: str, now_ms: int, zone: ZoneInfo) -> str:
    """Say that the watch is paused, until when, by whom and why."""
    reason = f": {why}" if why else ""
    return f"Paused until {since_when(until_ms, now_ms, zone)} by {by}{reason}."


def headline(open_alarms: Sequence[Stands], pause: str, trouble: Sequence[str]) -> str:
    """Return the one sentence that matters most."""
    real = [one for one in open_alarms if not one.drill]
    asking = [one for one in real if one.state in ("unacknowledged", "returned to normal unacknowledged")]
    if asking:
        wait = "1 alarm waits" if len(asking) == 1 else f"{len(asking)} alarms wait"
        names = some([f'"{one.what}"' for one in asking], _MOST_NAMED)
        return f"{wait} for an answer: {names}."
    looked_after = [one for one in real if one.state == "acknowledged"]
    if looked_after:
        pieces = [f'{one.by} is looking after "{one.what}"' for one in looked_after]
        return f"{some(pieces, _MOST_NAMED)}."
    if pause:
        return pause
    if trouble:
        return f"No alarm waits, but the watch is not well: {listed(list(trouble))}."
    return QUIET


def _begun(text: str) -> str:
    return text[:1].upper() + text[1:]
