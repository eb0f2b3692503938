"""When somebody lived in the home, by a record: occupied runs, and stretches empty but for short calls.

A sign of life counts for ten minutes. An empty stretch is one in which far less of the time is filled with signs of
life than on a usual day of this home: one of the *maximal scoring stretches* (Ruzzo and Tompa, "A linear time
algorithm for finding all maximal scoring subsequences", ISMB 1999) when quiet scores for it and life against. So a
caller once in days does not end it, and it begins and ends exactly at a sign of life. Somebody who lies in bed for
days and hardly moves looks the same: this is a reading of the record, not a finding about a person.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from stillwell.record.columns import Gap, Record, Times
from stillwell.record.gaps import NO_REPORT, report_times

HOUR_MS: Final = 3_600_000
DAY_MS: Final = 24 * HOUR_MS

LIFE_WORDS: Final = frozenset({"movement", "vibration", "pressed", "open", "occupied"})
"""Signals taken for signs of life where nobody says which are: they do not change while everybody lies still."""

LIFE_LASTS_MS: Final = 600_000
FEW: Final = 0.15
"""Life fills less of an empty stretch than this share of what it fills of a usual day. In the recorded homes calls
in an empty home fill up to a tenth, the quietest half day of somebody at home (a long outing) a fifth and more."""
USUAL_DAY: Final = 0.75
"""The usual day is the third best of four: a home may stand empty for half of its record."""
EMPTY_LEAST_MS: Final = DAY_MS
CALL_PAUSE_MS: Final = HOUR_MS
"""Signs of life further apart belong to two calls."""
RECORDER_OFF_MS: Final = 14 * DAY_MS
"""So long without any row parts a record: what lies before and after is judged apart."""


@dataclass(frozen=True, slots=True)
class Empty:
    """A stretch with few or no signs of life, from the last sign before to the first after.

    ``calls`` is how often somebody came by, ``signs`` how many signs of life that gave.
    """

    start_ms: int
    end_ms: int
    calls: int
    signs: int
    longest_silence_ms: int


@dataclass(frozen=True, slots=True)
class Run:
    """A stretch in which somebody lived there, and how often each sign of life came, a day."""

    start_ms: int
    end_ms: int
    signs_per_day: Mapping[str, float]

    @property
    def days(self) -> float:
        """How long it is, in days."""
        return (self.end_ms - self.start_ms) / DAY_MS


@dataclass(frozen=True, slots=True)
class Presence:
    """Who was there when: occupied runs and empty stretches in order of time."""

    runs: tuple[Run, ...]
    empty: tuple[Empty, ...]

    def occupied_ms(self, times: Times) -> Times:
        """How much occupied time had passed at each instant."""
        edges = np.array([edge for run in self.runs for edge in (run.start_ms, run.end_ms)], np.int64)
        if not len(edges):
            return np.zeros(len(times), np.int64)
        passed = np.cumsum(edges[1::2] - edges[::2])
        done = np.column_stack([np.append(0, passed[:-1]), passed]).ravel()
        passed_ms: Times = np.interp(times, edges, done).astype(np.int64)
        return passed_ms


def presence(record: Record, signs_of_life: Collection[str] | None = None) -> Presence:
    """Read occupied runs and empty stretches from a record.

    ``signs_of_life`` names the signals that only somebody there can cause; else those that end in LIFE_WORDS.
    """
    names = life_signals(record, signs_of_life)
    life = np.unique(report_times([record.signals[name] for name in names]))
    found = [
        stretch
        for start, end in _recorded(record)
        for stretch in _empty_stretches(life[(life >= start) & (life < end)], start, end)
    ]
    runs = tuple(_run(record, names, start, end) for start, end in _between(record, found))
    return Presence(runs, tuple(empty for empty in found if not _is_gap(empty, record.gaps)))


def life_signals(record: Record, signs_of_life: Collection[str] | None) -> list[str]:
    """Return the names of the signals that are signs of life, sorted."""
    if signs_of_life is not None:
        return sorted(name for name in record.signals if name in signs_of_life)
    return sorted(name for name in record.signals if name.rpartition(".")[2] in LIFE_WORDS)


def _recorded(record: Record) -> Iterator[tuple[int, int]]:
    """Yield the stretches between those in which nothing was recorded for long."""
    start = record.span[0]
    for gap in record.gaps:
        if gap.reason == NO_REPORT and gap.end_ms - gap.start_ms >= RECORDER_OFF_MS:
            yield start, gap.start_ms + 1
            start = gap.end_ms
    yield start, record.span[1]


def _empty_stretches(life: Times, start: int, end: int) -> list[Empty]:
    """Return the empty stretches in [start, end) of sorted signs of life."""
    if not len(life):
        return [Empty(start, end, 0, 0, end - start)] if end - start >= EMPTY_LEAST_MS else []
    share = FEW * _usual_share(life, start, end)
    pauses = np.flatnonzero(np.diff(life) >= CALL_PAUSE_MS)
    first, last = np.append(0, pauses + 1), np.append(pauses, len(life) - 1)
    befores, afters = np.append(start, life[last]), np.append(life[first], end)
    scores = np.empty(2 * len(first) + 1)
    scores[::2] = np.maximum(afters - befores - LIFE_LASTS_MS, 0) * share
    filled = np.append(0, np.cumsum(np.minimum(np.diff(life), LIFE_LASTS_MS)))
    alive = filled[last] - filled[first] + LIFE_LASTS_MS
    scores[1::2] = (life[last] - life[first] + LIFE_LASTS_MS - alive) * share - alive * (1 - share)
    stretches = []
    for begin, finish in maximal_stretches(scores.tolist()):
        silences = slice(begin // 2, finish // 2 + 1)
        since, until = int(befores[silences][0]), int(afters[silences][-1])
        if until - since >= EMPTY_LEAST_MS:
            bouts = slice(begin // 2, finish // 2)
            signs = int((last[bouts] - first[bouts] + 1).sum())
            longest = int((afters[silences] - befores[silences]).max())
            stretches.append(Empty(since, until, finish // 2 - begin // 2, signs, longest))
    return stretches


def _usual_share(life: Times, start: int, end: int) -> float:
    """The share of the time that signs of life fill on a usual day."""
    edges = np.arange(start, max(end, start + DAY_MS + 1), DAY_MS)
    covered = np.append(0, np.cumsum(np.minimum(np.diff(life, append=end), LIFE_LASTS_MS)))
    per_day = np.diff(covered[np.searchsorted(life, edges)])
    per_day = per_day[per_day > 0]
    return float(np.quantile(per_day, USUAL_DAY)) / DAY_MS if len(per_day) else 1.0


def maximal_stretches(scores: Sequence[float]) -> list[tuple[int, int]]:
    """Return all maximal scoring stretches as (first, last) index of ``scores``, in order.

    Each is a run of neighbours of which every beginning and every end adds to its sum, none can be made to score
    more by a shorter or longer one, and no two overlap (Ruzzo and Tompa 1999).
    """
    found: list[tuple[int, int, float, float, int]] = []  # first, last, sum before, sum after, the one to look at next
    total = 0.0
    for index, score in enumerate(scores):
        before, total = total, total + score
        if score <= 0:
            continue
        first = index
        look = len(found) - 1
        while True:
            while look >= 0 and found[look][2] >= before:
                look = found[look][4]
            if look < 0 or found[look][3] >= total:
                break
            first, before = found[look][0], found[look][2]
            following = found[look][4]
            del found[look:]
            look = following
        found.append((first, index, before, total, look))
    return [(each[0], each[1]) for each in found]


def _between(record: Record, empty: Sequence[Empty]) -> Iterator[tuple[int, int]]:
    """Yield what lies between the empty stretches and the parts of the record."""
    for start, end in _recorded(record):
        since = start
        for stretch in empty:
            if start <= stretch.start_ms < end:
                if stretch.start_ms > since:
                    yield since, stretch.start_ms
                since = stretch.end_ms
        if end > since + 1:
            yield since, end


def _run(record: Record, names: Sequence[str], start: int, end: int) -> Run:
    rates: dict[str, float] = {}
    for name in names:
        first, last = np.searchsorted(record.signals[name].times, [start, end])
        rates[name] = int(last - first) * DAY_MS / (end - start)
    return Run(start, end, rates)


def _is_gap(empty: Empty, gaps: Sequence[Gap]) -> bool:
    """Whether an empty stretch is nothing but a gap: no call, and no row nearly all the time."""
    length = empty.end_ms - empty.start_ms
    silent = sum(max(0, min(gap.end_ms, empty.end_ms) - max(gap.start_ms, empty.start_ms)) for gap in gaps)
    return not empty.calls and silent > 0.9 * length
