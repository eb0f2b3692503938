"""What limits would have done on days they were not learned from, walked forward through a record.

Every so many days limits are learned anew from what was known by then (``cleaning.known_by``), and judged on the days
until the next time: a silence that lasted longer than the limit its sign set is a false alarm, one for each silence;
and for a silence for good that begins at any instant of those days the delay is integrated exactly (``replay``'s
pieces). Days on which somebody was there count, also those with a detector out: that is life with detectors.
"""

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Protocol
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from stillwell.civiltime import hour_edges
from stillwell.limits.cleaning import Cleaned, Day, Reason, clean, known_by
from stillwell.limits.published.lived import Lived
from stillwell.limits.silences import local_ms
from stillwell.limits.trust import changes
from stillwell.record.columns import Record, Times
from stillwell.replay.distribution import NEVER_MS, Pieces, Spread, spread
from stillwell.replay.rates import DAY_MS, Rate, rate

TRAIN_DAYS: Final = 28
LEAST_TRAIN_DAYS: Final = 7
EVERY_DAYS: Final = 4
"""Learning every night takes four times as long; on the long recorded home notice times are alike (docs/limits.md)."""
NOT_THERE: Final[frozenset[Reason]] = frozenset({"marked", "no report", "empty", "visitor", "incomplete", "no life"})
DAY_FROM, DAY_UNTIL = 8, 22


class Limits(Protocol):
    """A rule for how long silence may last after each sign of life."""

    def limits(self, parts: Sequence[str], part: NDArray[np.int64], local_ms: Times) -> Times:
        """Return the limit in ms that each sign sets; ``part`` holds indices into ``parts``."""
        ...


@dataclass(frozen=True)
class Signs:
    """All signs of life of a record, in order, for judging: their parts, when, when the next one came, and which of
    the judged days each belongs to (-1: none)."""

    zone: str
    span: tuple[int, int]
    parts: tuple[str, ...]
    part: NDArray[np.int64]
    times: Times
    local: Times
    ends: Times
    days: tuple[Day, ...]
    day: NDArray[np.int64]

    @property
    def lived(self) -> Lived:
        """The same for the published methods: they learn from silences that are judged, once these are over."""
        days = np.array([(day.start_ms, day.end_ms) for day in self.days], np.int64).reshape(-1, 2)
        return Lived(self.times, self.local, self.part, self.parts, self.ends, self.day >= 0, days, self.day)


@dataclass(frozen=True)
class Judged:
    """What limits did on ``days`` judged days: false alarms (how often, and when) and the delay of silences that begin
    at any instant, over the whole day and from 08 to 22 h."""

    days: int
    false: Rate
    alarms: tuple[int, ...]
    whole: Spread
    by_day: Spread


def signs_of_record(cleaned: Cleaned, names: Collection[str]) -> Signs:
    """Lay out the signs of life of a whole record for judging, those of parts that died later too."""
    record = cleaned.record
    joined = {pair.old: pair.new for pair in cleaned.found.replaced}
    pairs = [(joined.get(part, part), word) for part, _, word in (name.partition(".") for name in names)]
    kept = sorted({(part, word) for part, word in pairs if f"{part}.{word}" in record.signals})
    parts = tuple(dict.fromkeys(part for part, _ in kept))
    found = [changes(record.signals[f"{part}.{word}"]) for part, word in kept]
    times = np.concatenate([np.empty(0, np.int64), *found])
    of = np.repeat(np.array([parts.index(part) for part, _ in kept], np.int64), [len(each) for each in found])
    order = np.argsort(times, kind="stable")
    times, of = times[order], of[order]
    first = np.append(np.True_, times[1:] != times[:-1])[: len(times)]
    times, of = times[first], of[first]
    ends = np.append(times[1:], record.span[1]).astype(np.int64)[: len(times)]
    days = tuple(day for day in cleaned.days if day.left_out not in NOT_THERE)
    starts = np.array([day.start_ms for day in days], np.int64)
    stops = np.array([day.end_ms for day in days], np.int64)
    day = np.searchsorted(starts, times, "right") - 1
    inside = day >= 0
    inside[inside] = times[inside] < stops[day[inside]]
    for each in cleaned.left_out:
        if each.reason in NOT_THERE:
            inside &= (ends <= each.start_ms) | (times >= each.end_ms)
    local = local_ms(record.zone, times, record.span)
    return Signs(record.zone, record.span, parts, of, times, local, ends, days, np.where(inside, day, -1))


def judge(signs: Signs, told: Times, days: Collection[int]) -> Judged:
    """Judge alarm instants (one for each sign: what would be told were it the last) on some of the days."""
    at = _of_days(signs, days)
    here = told[at]
    alarms = tuple(here[here < signs.ends[at]].tolist())
    pieces = pieces_of(signs, told, days)
    watched = sum(signs.days[day].end_ms - signs.days[day].start_ms for day in days)
    return Judged(len(days), rate(len(alarms), watched), alarms, spread(pieces), spread(_by_day(pieces, signs)))


def pieces_of(signs: Signs, told: Times, days: Collection[int]) -> Pieces:
    """Return all onsets of silence on some of the days, and when each is told of."""
    at = _of_days(signs, days)
    starts, ends, here = signs.times[at], signs.ends[at], told[at]
    standing = np.minimum(here, ends)
    pieces = Pieces(
        np.append(starts, standing),
        np.append(standing, ends),
        np.append(here, here),
        np.repeat([False, True], len(at)),
    )
    return pieces.pick(pieces.start < pieces.end)


def _of_days(signs: Signs, days: Collection[int]) -> NDArray[np.intp]:
    return np.flatnonzero(np.isin(signs.day, np.array(sorted(days), np.int64)))


def told_by(limits: Limits, signs: Signs) -> Times:
    """Return when the alarm after each sign comes."""
    told: Times = signs.times + limits.limits(signs.parts, signs.part, signs.local)
    return told


def once_a_day(signs: Signs, hour: int = 8, quiet_ms: int = 12 * 3_600_000) -> Times:
    """Return when somebody who looks once a day, at ``hour``, finds at least ``quiet_ms`` of silence."""
    earliest = signs.local + quiet_ms
    at = earliest - (earliest - hour * 3_600_000) % DAY_MS
    told: Times = np.where(at < earliest, at + DAY_MS, at) - signs.local + signs.times
    return told


def walk_forward(
    record: Record,
    names: Collection[str],
    learn: Callable[[Cleaned], Mapping[str, Limits]],
    signs: Signs,
    visits: Sequence[tuple[int, int]] = (),
    *,
    every_days: int = EVERY_DAYS,
    progress: Callable[[float], None] | None = None,
) -> tuple[dict[str, Times], tuple[int, ...]]:
    """Learn again and again from what was known by then.

    Return when each of the kinds of limits that ``learn`` makes would have told after each sign, and the indices of the
    judged days: those after the first four weeks (a third of a shorter record) on which somebody was there.
    """
    train = min(TRAIN_DAYS, max(LEAST_TRAIN_DAYS, len(signs.days) // 3))
    told: dict[str, Times] = {}
    blocks = list(_blocks(len(signs.days), train, every_days))
    for number, (first, last) in enumerate(blocks):
        start = signs.days[first].start_ms
        known = clean(known_by(record, start), names, [visit for visit in visits if visit[1] <= start])
        on = (signs.day >= first) & (signs.day < last)
        for name, limits in learn(known).items() if len(known.used) >= LEAST_TRAIN_DAYS else ():
            if name not in told:
                told[name] = np.full(len(signs.times), NEVER_MS, np.int64)
            own = limits.limits(signs.parts, signs.part[on], signs.local[on])
            told[name][on] = signs.times[on] + own
        if progress is not None:
            progress((number + 1) / len(blocks))
    judged = tuple(range(train, len(signs.days)))
    return told, judged


def _blocks(days: int, train: int, every: int) -> Iterator[tuple[int, int]]:
    for first in range(train, days, every):
        yield first, min(first + every, days)


def _by_day(pieces: Pieces, signs: Signs) -> Pieces:
    edges = hour_edges(ZoneInfo(signs.zone), signs.span)
    starts = np.array([start for start, _ in edges], np.int64)
    hours = np.array([hour for _, hour in edges])
    cut = pieces.cut(starts)
    hour = hours[np.maximum(np.searchsorted(starts, cut.start, "right") - 1, 0)]
    return cut.pick((hour >= DAY_FROM) & (hour < DAY_UNTIL))
