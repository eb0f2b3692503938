"""A home as the judge sees it: signs of life in order, the silences after them, and the days that are judged."""

import re
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np

from stillwell.civiltime import day_edges, hour_edges
from stillwell.limits.cleaning import clean
from stillwell.limits.published.lived import DAY_MS, HOUR_MS, MINUTE_MS, Lived, Past
from stillwell.limits.silences import local_ms
from stillwell.limits.trust import changes
from stillwell.record.columns import Record
from stillwell.record.presence import life_signals
from stillwell.replay.distribution import NEVER_MS

AT_EXIT = re.compile(r"(^|_)(front|main|entrance|entry|outside|street|yard|garage|foyer)(_|$)")
NO_EXIT = re.compile(r"closet|switch|light|lamp")
OUT_LEAST_MS = 10 * MINUTE_MS
"""Who was heard last at the way out, and then nowhere for so long, is taken to have gone out: the protocol's rule."""
TRAIN_DAYS = 28
LEAST_TRAIN_DAYS = 5
NOT_THERE = ("marked", "no report", "empty")
"""Of these stretches no silence is judged, and none is learned: nobody was there, or nobody listened."""


@dataclass(frozen=True, eq=False)
class Stream(Lived):
    """The signs of life of one home, with what is left out of it and why."""

    zone: str
    left_out: tuple[tuple[int, int, str], ...]
    span: tuple[int, int]

    @property
    def train_days(self) -> int:
        """How many of the days are only learned from: four weeks, a third of a shorter record, five at least."""
        return min(TRAIN_DAYS, max(LEAST_TRAIN_DAYS, len(self.days) // 3))

    @cached_property
    def hours(self) -> tuple[np.ndarray, np.ndarray]:
        """The local hours of the record: start of each (ms UTC) and its name, 0 to 23."""
        edges = hour_edges(ZoneInfo(self.zone), self.span)
        return np.array([start for start, _ in edges], np.int64), np.array([hour for _, hour in edges])

    @cached_property
    def runs(self) -> np.ndarray:
        """For each day the number of its run: days that follow one another without a day left out."""
        broken = np.append(False, self.days[1:, 0] != self.days[:-1, 1])
        return np.cumsum(broken)

    @cached_property
    def out(self) -> np.ndarray:
        """Tell of each silence whether somebody was out, looking back: it began at the way out, and was long."""
        at_exit = np.isin(self.part, [self.parts.index(part) for part in exits_by_name(self.parts)])
        return at_exit & (self.ends - self.times >= OUT_LEAST_MS)


def exits_by_name(parts: tuple[str, ...]) -> tuple[str, ...]:
    """Guess from names alone which parts are at the way out: a mapping, unlike a plan, does not say."""
    return tuple(part for part in parts if AT_EXIT.search(part) and not NO_EXIT.search(part))


def stream_of(record: Record) -> Stream:
    """Lay out a record for the judge."""
    names = life_signals(record, None)
    found = [changes(record.signals[name]) for name in names]
    parts = tuple(dict.fromkeys(name.rpartition(".")[0] for name in names))
    times = np.concatenate([np.empty(0, np.int64), *found])
    of = np.repeat([parts.index(name.rpartition(".")[0]) for name in names], [len(each) for each in found])
    order = np.argsort(times, kind="stable")
    times, of = times[order], of[order].astype(np.int64)
    first = np.append(True, times[1:] != times[:-1])[: len(times)]
    times, of = times[first], of[first]
    ends = np.append(times[1:], record.span[1]).astype(np.int64)[: len(times)]
    away = [(each.start_ms, each.end_ms, each.reason) for each in clean(record).left_out if each.reason in NOT_THERE]
    days = _whole_days(record, away)
    day = np.searchsorted(days[:, 0], times, "right") - 1
    inside = (day >= 0) & (times < days[np.maximum(day, 0), 1]) if len(days) else np.zeros(len(times), bool)
    return Stream(
        zone=record.zone,
        times=times,
        local=local_ms(record.zone, times, record.span),
        part=of,
        parts=parts,
        ends=ends,
        judgeable=~_touches(times, ends, away),
        days=days,
        day=np.where(inside, day, -1),
        left_out=tuple(away),
        span=record.span,
    )


def _whole_days(record: Record, away: list[tuple[int, int, str]]) -> np.ndarray:
    zone = ZoneInfo(record.zone)
    edges = [start for start, _ in day_edges(zone, (record.span[0] - 1, record.span[1] + 1))]
    spans = np.array(list(pairwise(edges)), np.int64).reshape(-1, 2)
    whole = (spans[:, 0] >= record.span[0]) & (spans[:, 1] <= record.span[1])
    return spans[whole & ~_touches(spans[:, 0], spans[:, 1], away)]


def _touches(starts: np.ndarray, ends: np.ndarray, away: list[tuple[int, int, str]]) -> np.ndarray:
    """Tell which of the stretches [start, end) share time with one that is left out."""
    found = np.zeros(len(starts), bool)
    for start, end, _ in away:
        found |= (starts < end) & (ends > start)
    return found


__all__ = ["DAY_MS", "HOUR_MS", "MINUTE_MS", "NEVER_MS", "Past", "Stream", "exits_by_name", "stream_of"]
