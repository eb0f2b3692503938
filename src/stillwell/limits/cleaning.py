"""Which days of a record tell how the resident lives, and which must not be learned from, each for its reason.

Two uses. *Looking back*, ``clean(record)`` reads the whole record: for a report, and for what is learned from all of
it. *As known then*, ``clean(known_by(record, end_of_day))`` reads only what had been reported by that instant: for a
relearning every night and for every walk-forward judgement. There is no third way in, so that nothing of a later day
can leak into an earlier decision; a stretch that turns out to be an empty home is known as one only after a day.

What a record says of itself (empty stretches, dead, stuck and renamed parts) is found by ``record.condition``; here
it is turned into days that count and days that do not.
"""

from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise
from typing import Final, Literal, TypeAlias
from zoneinfo import ZoneInfo

import numpy as np

from stillwell.civiltime import day_edges
from stillwell.limits.beats import silent_recorder
from stillwell.limits.trust import Mistrusted, chatter, joined, life_times, mistrusted, weighty_parts
from stillwell.record.columns import Column, Gap, Pulses, Record, Steps
from stillwell.record.condition import Condition, condition
from stillwell.record.gaps import EXCLUDED, NO_REPORT_MS, with_no_report_gaps
from stillwell.record.presence import life_signals

Reason: TypeAlias = Literal["marked", "no report", "empty", "detector out", "visitor", "incomplete", "no life"]
GRAVEST_FIRST: Final[tuple[Reason, ...]] = (
    "marked",
    "no report",
    "empty",
    "detector out",
    "visitor",
    "incomplete",
    "no life",
)


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A stretch that is not learned from. ``parts`` names the detectors that were out, for "detector out"."""

    start_ms: int
    end_ms: int
    reason: Reason
    parts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Day:
    """A local day, clipped to the record. ``left_out`` says why it does not count; None: it counts."""

    date: date
    start_ms: int
    end_ms: int
    left_out: Reason | None


@dataclass(frozen=True)
class Cleaned:
    """A record made ready to be learned from.

    ``record`` has its renamed parts joined and the stretches of chattering detectors taken out. ``life`` names the
    signals that can be trusted as signs of life *at its end*: those of parts that died are left out throughout, so
    that the past looks as the home can be seen today. ``mistrusted`` says which signal told nothing, when and why;
    an outside door in it cannot tell of anybody going out. ``days`` are all local days in order, ``left_out`` the
    stretches behind those that do not count; ``found`` is the record's condition as read.
    """

    record: Record
    life: tuple[str, ...]
    days: tuple[Day, ...]
    left_out: tuple[LeftOut, ...]
    mistrusted: tuple[Mistrusted, ...]
    found: Condition

    @property
    def used(self) -> tuple[Day, ...]:
        """The days that count."""
        return tuple(day for day in self.days if day.left_out is None)

    @property
    def spans(self) -> tuple[tuple[int, int], ...]:
        """The days that count as disjoint spans in order, neighbouring days made one."""
        spans: list[tuple[int, int]] = []
        for day in self.used:
            if spans and spans[-1][1] == day.start_ms:
                spans[-1] = (spans[-1][0], day.end_ms)
            else:
                spans.append((day.start_ms, day.end_ms))
        return tuple(spans)

    @property
    def counts(self) -> Mapping[Reason, int]:
        """How many days are left out for each reason, the gravest first."""
        found = Counter(day.left_out for day in self.days if day.left_out is not None)
        return {reason: found[reason] for reason in GRAVEST_FIRST if found[reason]}

    def trusted(self, signal: str, at_ms: int) -> bool:
        """Whether a signal could be believed at an instant."""
        return not any(each.signal == signal and each.start_ms <= at_ms < each.end_ms for each in self.mistrusted)


def clean(
    record: Record,
    signs_of_life: Collection[str] | None = None,
    visits: Sequence[tuple[int, int]] = (),
) -> Cleaned:
    """Tell the days that count from those that do not.

    ``signs_of_life`` names the signals that only a living resident causes (else they are told by their names);
    ``visits`` are stretches in which somebody else was there, as the keeper noted or ``company`` found them.
    """
    found = condition(record, signs_of_life)
    whole = joined(record, found.replaced)
    names = _joined_names(life_signals(record, signs_of_life), found)
    stuck = [each for name in names for each in chatter(whole, name)]
    whole = _without(whole, stuck)
    doubts = (*mistrusted(whole, found), *stuck)
    end = whole.span[1]
    life = tuple(name for name in names if not any(each.signal == name and each.end_ms >= end for each in doubts))
    stretches = sorted(
        [*_stretches(whole, found, life), *(LeftOut(start, stop, "visitor") for start, stop in visits if start < stop)],
        key=lambda each: each.start_ms,
    )
    return Cleaned(whole, life, tuple(_days(whole, life, stretches)), tuple(stretches), doubts, found)


def known_by(record: Record, at_ms: int) -> Record:
    """Return the record as far as it was known at an instant: what was reported, or marked by a person, before it.

    The stretches without any report are found anew: one that goes on for less than a day yet is none so far.
    """
    end = max(record.span[0] + 1, min(at_ms, record.span[1]))
    signals: dict[str, Column] = {}
    for name, column in record.signals.items():
        upto = int(np.searchsorted(column.times, end))
        if upto:
            times = column.times[:upto]
            signals[name] = Pulses(times) if isinstance(column, Pulses) else Steps(times, column.values[:upto])
    marked = tuple(
        Gap(gap.start_ms, min(gap.end_ms, end), gap.reason)
        for gap in record.gaps
        if gap.reason == EXCLUDED and gap.start_ms < end
    )
    events = sum(len(column.times) for column in signals.values())
    cut = replace(record, span=(record.span[0], end), signals=signals, gaps=marked, events=events)
    return with_no_report_gaps(cut)


def _stretches(record: Record, found: Condition, life: Collection[str]) -> Iterator[LeftOut]:
    for gap in record.gaps:
        yield LeftOut(gap.start_ms, gap.end_ms, "marked" if gap.reason == EXCLUDED else "no report")
    for start, end in silent_recorder(record):
        yield LeftOut(start, end, "no report")
    last = max(
        (int(column.times[-1]) for column in record.signals.values() if len(column.times)), default=record.span[0]
    )
    if record.span[1] - last >= NO_REPORT_MS:
        yield LeftOut(last, record.span[1], "no report")
    for empty in found.empty:
        yield LeftOut(empty.start_ms, empty.end_ms, "empty")
    weighty = weighty_parts(record, life)
    for spell in found.quiet:
        if spell.part in weighty:
            yield LeftOut(spell.start_ms, spell.end_ms, "detector out", (spell.part,))


def _days(record: Record, life: Sequence[str], stretches: Sequence[LeftOut]) -> Iterator[Day]:
    zone = ZoneInfo(record.zone)
    start, end = record.span
    # One instant beyond each end tells whether the first and the last day are whole.
    edges = [*((max(at, start), day) for at, day in day_edges(zone, record.span)), (end, date.max)]
    signs = life_times(record, life)
    whole_first = day_edges(zone, (start - 1, start + 1))[-1][0] == start
    whole_last = day_edges(zone, (end - 1, end + 1))[-1][0] == end
    for number, ((begin, day), (stop, _)) in enumerate(pairwise(edges)):
        over: Counter[Reason] = Counter()
        for each in stretches:
            shared = min(stop, each.end_ms) - max(begin, each.start_ms)
            if shared > 0:
                over[each.reason] += shared
        reason = over.most_common(1)[0][0] if over else None
        if reason is None and ((not number and not whole_first) or (number == len(edges) - 2 and not whole_last)):
            reason = "incomplete"
        if reason is None and np.searchsorted(signs, begin) == np.searchsorted(signs, stop):
            reason = "no life"
        yield Day(day, begin, stop, reason)


def _joined_names(names: Sequence[str], found: Condition) -> list[str]:
    new = {pair.old: pair.new for pair in found.replaced}
    parts = [name.partition(".") for name in names]
    return sorted({f"{new.get(part, part)}.{word}" for part, _, word in parts})


def _without(record: Record, stuck: Sequence[Mistrusted]) -> Record:
    """Take the reports of chattering detectors out of the stretches in which they chattered."""
    signals = dict(record.signals)
    for each in stuck:
        column = signals[each.signal]
        keep = (column.times < each.start_ms) | (column.times >= each.end_ms)
        signals[each.signal] = (
            Pulses(column.times[keep]) if isinstance(column, Pulses) else Steps(column.times[keep], column.values[keep])
        )
    return replace(record, signals=signals)
