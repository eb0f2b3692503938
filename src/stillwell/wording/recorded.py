"""A record in plain words: what some days held, and each of them."""

from collections.abc import Sequence
from datetime import date
from zoneinfo import ZoneInfo

from stillwell.civiltime import Span
from stillwell.replay.day_facts import DayFacts
from stillwell.wording.counting import counted, times
from stillwell.wording.durations import rounded
from stillwell.wording.instants import clock, moment


def days_sentence(facts: Sequence[DayFacts], alarms: int, zone: ZoneInfo) -> str:
    """Say what some days held; a plain sentence beside the drawing."""
    lived = [one for one in facts if one.signs]
    if not lived:
        return "No movement was recorded on these days."
    on = "on each of them" if len(lived) == len(facts) else f"on {counted(len(lived), 'day')}"
    pieces = [f"{counted(len(facts), 'day')}: movement {on}" if len(facts) > 1 else "Movement"]
    firsts = [one.first_ms for one in lived if one.first_ms is not None]
    if firsts:
        pieces.append(f"the first after 04:00 {_between([clock(zone, at_ms) for at_ms in firsts])}")
    quiet = [one.quiet for one in facts if one.quiet is not None]
    if quiet:
        pieces.append(f"the longest quiet at home {quiet_words(max(quiet, key=_length), zone)}")
    out = [one for each in facts for one in each.out]
    if out:
        pieces.append(f"probably out {times(len(out))}, {rounded(sum(map(_length, out)))} in all")
    pieces.append(counted(alarms, "alarm"))
    return f"{'; '.join(pieces)}."


def quiet_words(quiet: Span, zone: ZoneInfo) -> str:
    """Say how long it was quiet, and since when: "8 h 12 min, from Tue 3 Mar 2026 22:10"."""
    return f"{rounded(_length(quiet))}, from {moment(zone, quiet[0])}"


def quiet_cell(quiet: Span | None, zone: ZoneInfo) -> str:
    """Say the longest quiet of a day in a table: "8 h 12 min, 22:10 to 06:22"."""
    if quiet is None:
        return "-"
    return f"{rounded(_length(quiet))}, {clock(zone, quiet[0])} to {clock(zone, quiet[1])}"


def out_cell(out: Sequence[Span]) -> str:
    """Say how often somebody was out and for how long in all: "twice, 1 h 40 min"."""
    return f"{times(len(out))}, {rounded(sum(map(_length, out)))}" if out else "-"


def date_words(day: date, *, year: bool = True) -> str:
    """Write a date: "Tue 3 Mar 2026"."""
    return f"{day:%a} {day.day} {day:%b}" + (f" {day.year}" if year else "")


def dates_words(first: date, last: date) -> str:
    """Write a stretch of days: "Mon 2 Mar to Sun 8 Mar 2026"."""
    if first == last:
        return date_words(first)
    return f"{date_words(first, year=first.year != last.year)} to {date_words(last)}"


def _between(clocks: Sequence[str]) -> str:
    first, last = min(clocks), max(clocks)
    return f"at {first}" if first == last else f"between {first} and {last}"


def _length(span: Span) -> int:
    return span[1] - span[0]
