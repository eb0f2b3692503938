"""Which days of a record are learned from and which not, a plain sentence each, with dates."""

from collections.abc import Iterator, Sequence
from typing import Final
from zoneinfo import ZoneInfo

from stillwell.limits.cleaning import Cleaned, LeftOut, Reason
from stillwell.limits.trust import Mistrusted
from stillwell.record.presence import life_signals
from stillwell.wording.conditions import empty_sentence
from stillwell.wording.counting import counted, listed, times
from stillwell.wording.instants import day, moment, stretch

_MOST_DATES: Final = 4
_WHY: Final[dict[Reason, str]] = {
    "marked": "marked by hand",
    "no report": "nothing was reported for a long time (the recorder was off, or the home empty: a record cannot tell)",
    "empty": "the home looks empty, and whoever called is not the resident",
    "detector out": "a detector that matters was out while others reported",
    "visitor": "somebody else moved about",
    "incomplete": "the first and the last day of the record are not whole",
    "no life": "no sign of life all day",
}


def days_sentence(cleaned: Cleaned) -> str:
    """Say how many days count: "163 of 333 days count."."""
    return f"{len(cleaned.used)} of {counted(len(cleaned.days), 'day')} count."


def left_out_sentences(cleaned: Cleaned) -> list[str]:
    """Say for each reason how many days do not count, and when."""
    zone = ZoneInfo(cleaned.record.zone)
    found = []
    for reason, count in cleaned.counts.items():
        text = f"{counted(count, 'day')} left out: {_WHY[reason]}"
        own = [each for each in cleaned.left_out if each.reason == reason]
        if reason == "empty":
            told = " ".join(empty_sentence(empty, zone) for empty in cleaned.found.empty)
            found.append(f"{text}. {told}")
        elif own:
            found.append(f"{text}: {_when(own, zone)}.")
        else:
            found.append(f"{text}.")
    return found


def trust_sentences(cleaned: Cleaned) -> list[str]:
    """Say which parts are not believed, since when, and what follows for the limits."""
    zone = ZoneInfo(cleaned.record.zone)
    return [
        *(
            f"{pair.old} became {pair.new} on {day(zone, pair.first_ms)}: renamed, moved or replaced; learned as one."
            for pair in cleaned.found.replaced
        ),
        *_dead(cleaned, zone),
        *_stuck(cleaned, zone),
    ]


def _dead(cleaned: Cleaned, zone: ZoneInfo) -> Iterator[str]:
    doors = {each.signal.partition(".")[0]: each for each in cleaned.found.stuck if each.for_good}
    signs = {name.partition(".")[0] for name in life_signals(cleaned.record, None)}
    for dead in cleaned.found.dead:
        said = f"{dead.part} has been dead since {moment(zone, dead.since_ms)}"
        if dead.part in doors:
            word = doors[dead.part].signal.partition(".")[2]
            yield f"{said} and would say {word} for ever: from then on it tells nothing, nor who went out."
        elif dead.part in signs:
            yield f"{said}: left out of the whole record, so that the past looks as the home can be seen today."


def _stuck(cleaned: Cleaned, zone: ZoneInfo) -> Iterator[str]:
    dead = {each.part for each in cleaned.found.dead}
    of: dict[str, list[Mistrusted]] = {}
    for each in cleaned.mistrusted:
        part, _, word = each.signal.partition(".")
        if each.reason == "chatters":
            yield f"{part} reported without a rest {_span(each, cleaned, zone)}: stuck, its reports are left out."
        elif each.reason == "stuck" and part not in dead:
            of.setdefault(each.signal, []).append(each)
    for signal, found in of.items():
        part, _, word = signal.partition(".")
        longest = max(found, key=lambda each: each.end_ms - each.start_ms)
        often = f" {times(len(found))}, the longest" if len(found) > 1 else ""
        yield f"{part} said {word} for days{often} {_span(longest, cleaned, zone)}: not believed meanwhile."


def _span(each: Mistrusted, cleaned: Cleaned, zone: ZoneInfo) -> str:
    if each.end_ms >= cleaned.record.span[1]:
        return f"from {moment(zone, each.start_ms)} to the end of the record"
    return stretch(zone, each.start_ms, each.end_ms)


def _when(stretches: Sequence[LeftOut], zone: ZoneInfo) -> str:
    """Say when, the longest stretches only, in order of time."""
    parts = sorted({part for each in stretches for part in each.parts})
    longest = sorted(stretches, key=lambda each: each.start_ms - each.end_ms)[:_MOST_DATES]
    shown = [_dates(each, zone) for each in sorted(longest, key=lambda each: each.start_ms)]
    if rest := len(stretches) - len(shown):
        shown.append(f"{rest} shorter")
    return f"{listed(parts)} {'was' if len(parts) == 1 else 'were'} silent {listed(shown)}" if parts else listed(shown)


def _dates(each: LeftOut, zone: ZoneInfo) -> str:
    first, last = day(zone, each.start_ms), day(zone, each.end_ms)
    return first if first == last else f"{first} to {last}"
