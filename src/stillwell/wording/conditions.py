"""What a record says about itself and its parts, a plain sentence each."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final
from zoneinfo import ZoneInfo

from stillwell.record.clockchange import ClockChange
from stillwell.record.columns import Gap
from stillwell.record.condition import Condition
from stillwell.record.gaps import NO_REPORT
from stillwell.record.parts import Dead, PartCondition
from stillwell.record.presence import Empty
from stillwell.record.stuck import Stuck
from stillwell.wording.counting import counted, times
from stillwell.wording.durations import MINUTE_MS, rounded
from stillwell.wording.instants import day, moment, stretch

LOW_BATTERY_PERCENT: Final = 20.0
"""Common practice, no source: from here on a battery is worth a word."""
_MOST_STRETCHES: Final = 5


@dataclass(frozen=True, slots=True)
class Remark:
    """One sentence, and what it is about: "dead", "stuck", "renamed", "link", "quiet", "battery", "empty",
    "no report", "clock"."""

    about: str
    sentence: str


def condition_remarks(found: Condition, zone: ZoneInfo) -> list[Remark]:
    """Say what ailed the parts and the record, the gravest first. Empty where nothing did."""
    return [*_parts(found, zone), *_times(found, zone)]


def lived_in(found: Condition) -> str:
    """Say for how long somebody lived there."""
    days = sum(run.days for run in found.runs)
    if not found.runs:
        return "Nobody seems to have lived there."
    in_all = f"{days:.0f} days" if days >= 10 else f"{days:.1f} days"
    return f"Somebody lived there for {in_all}, in {counted(len(found.runs), 'stretch', 'stretches')}."


def _parts(found: Condition, zone: ZoneInfo) -> Iterator[Remark]:
    for dead in found.dead:
        yield Remark("dead", _dead(dead, zone))
    for stuck in found.stuck:
        yield Remark("stuck", _stuck(stuck, zone))
    for pair in found.replaced:
        yield Remark(
            "renamed",
            f"{pair.old} was heard last on {moment(zone, pair.last_ms)} and {pair.new} first on "
            f"{moment(zone, pair.first_ms)}: renamed, moved or replaced, not lost.",
        )
    for link in found.weak_links:
        yield Remark(
            "link",
            f"{link.part} lost its radio link {times(link.losses)} between {day(zone, link.first_ms)} "
            f"and {day(zone, link.last_ms)}: a weak link.",
        )
    for spell in found.quiet:
        yield Remark(
            "quiet",
            f"{spell.part} said nothing {stretch(zone, spell.start_ms, spell.end_ms)} while others did: not its habit.",
        )
    yield from _batteries(found.parts, zone)


def _dead(dead: Dead, zone: ZoneInfo) -> str:
    text = f"{dead.part} was heard last on {moment(zone, dead.since_ms)}"
    if dead.link_lost_ms is not None:
        return f"{text}; the radio lost it on {moment(zone, dead.link_lost_ms)} and never found it again: dead."
    return f"{text}, and should have been heard again: dead."


def _stuck(stuck: Stuck, zone: ZoneInfo) -> str:
    part, _, word = stuck.signal.rpartition(".")
    if stuck.for_good:
        since = f"since {moment(zone, stuck.start_ms)}, to the end of the record"
        return f"{part} says {word} {since} ({rounded(stuck.end_ms - stuck.start_ms)}): stuck."
    return f"{part} said {word} {stretch(zone, stuck.start_ms, stuck.end_ms)}: stuck, or left so."


def _batteries(parts: tuple[PartCondition, ...], zone: ZoneInfo) -> Iterator[Remark]:
    for part in parts:
        battery = part.battery
        if battery is not None and battery.last_percent <= LOW_BATTERY_PERCENT:
            yield Remark(
                "battery",
                f"{part.part} told a battery of {battery.last_percent:.0f} % on {day(zone, battery.last_ms)}: "
                "change it.",
            )


def _times(found: Condition, zone: ZoneInfo) -> Iterator[Remark]:
    yield from (Remark("empty", empty_sentence(empty, zone)) for empty in found.empty)
    yield from gap_remarks(found.no_report, zone)
    for change in found.clock_changes:
        yield Remark("clock", _clock_change(change, zone))


def empty_sentence(empty: Empty, zone: ZoneInfo) -> str:
    """Say that a home looks empty for a while, and how often somebody came by."""
    calls = "nobody came by" if not empty.calls else f"somebody came by {times(empty.calls)}"
    signs = counted(empty.signs, "sign of life", "signs of life")
    return f"The home looks empty {stretch(zone, empty.start_ms, empty.end_ms)}; {calls} ({signs})."


def gap_remarks(gaps: tuple[Gap, ...], zone: ZoneInfo) -> Iterator[Remark]:
    """Say what a record is without; of many stretches without report only the longest, in order of time."""
    silent = [gap for gap in gaps if gap.reason == NO_REPORT]
    longest = sorted(silent, key=lambda gap: gap.start_ms - gap.end_ms)[:_MOST_STRETCHES]
    for gap in sorted(longest, key=lambda gap: gap.start_ms):
        yield Remark(NO_REPORT, f"Nothing reported {stretch(zone, gap.start_ms, gap.end_ms)}.")
    if rest := len(silent) - len(longest):
        total = sum(gap.end_ms - gap.start_ms for gap in silent) - sum(gap.end_ms - gap.start_ms for gap in longest)
        more = counted(rest, "further stretch", "further stretches")
        yield Remark(NO_REPORT, f"Nothing reported in {more}, {rounded(total)} together.")
    for gap in gaps:
        if gap.reason != NO_REPORT:
            yield Remark("left out", f"Left out by hand: {stretch(zone, gap.start_ms, gap.end_ms)}.")


def _clock_change(change: ClockChange, zone: ZoneInfo) -> str:
    way = "forward" if change.change_min > 0 else "back"
    by = rounded(abs(change.change_min) * MINUTE_MS)
    told = f"The clocks went {way} by {by} on {day(zone, change.at_ms)}"
    match change.verdict:
        case "agrees":
            return f"{told}, and the log followed."
        case "not followed":
            return f"{told}, but the log went on with the old time: its times are off by {by} from then on."
        case "cannot tell":
            return f"{told}; the days before and after do not tell whether the log followed."
