"""The silences of a record that may be learned from: each from one sign of life to the next."""

from collections.abc import Collection
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from stillwell.civiltime import transitions
from stillwell.limits.cleaning import Cleaned
from stillwell.limits.trust import changes
from stillwell.record.columns import Times
from stillwell.record.presence import life_signals


@dataclass(frozen=True)
class Silences:
    """Silences that were over, each by the sign of life that began it.

    ``part`` is the index in ``parts`` of what gave the sign, ``local_ms`` when, on the clock on the wall, ``length_ms``
    how long the silence after it lasted; ``day`` is the index of the sign's day among the ``days`` that count.
    """

    parts: tuple[str, ...]
    part: NDArray[np.int64]
    local_ms: Times
    length_ms: Times
    day: NDArray[np.int64]
    days: int

    def pick(self, keep: NDArray[np.bool_]) -> "Silences":
        """Return some of the silences; the days stay as they are."""
        return Silences(
            self.parts, self.part[keep], self.local_ms[keep], self.length_ms[keep], self.day[keep], self.days
        )


def silences_of(cleaned: Cleaned, exits: Collection[str] = ()) -> Silences:
    """Return the silences that begin on days that count and end before any stretch that is left out.

    ``exits`` names the parts at the way out. Of those that died the earlier signs still count: without them an outing
    would look as if somebody had been silent in the room where a sign came last before it.
    """
    record = cleaned.record
    parts, part, times = signs_of(cleaned, exits)
    ends = times[1:]
    part, times = part[:-1], times[:-1]
    starts = np.array([day.start_ms for day in cleaned.used], np.int64)
    stops = np.array([day.end_ms for day in cleaned.used], np.int64)
    day = np.searchsorted(starts, times, "right") - 1
    keep = day >= 0
    keep[keep] = times[keep] < stops[day[keep]]
    for each in cleaned.left_out:
        keep &= (ends <= each.start_ms) | (times >= each.end_ms)
    local = local_ms(record.zone, times, record.span)
    return Silences(parts, part[keep], local[keep], (ends - times)[keep], day[keep], len(starts))


def signs_of(cleaned: Cleaned, exits: Collection[str] = ()) -> tuple[tuple[str, ...], NDArray[np.int64], Times]:
    """Return the signs of life that can be trusted: names of parts, the part of each sign, and its time, sorted.

    Signals of ``exits`` are among them in any case.
    """
    at_exits = [name for name in life_signals(cleaned.record, None) if name.partition(".")[0] in exits]
    names = sorted({*cleaned.life, *at_exits})
    parts = tuple(dict.fromkeys(name.rpartition(".")[0] or name for name in names))
    found = [changes(cleaned.record.signals[name]) for name in names]
    of = [parts.index(name.rpartition(".")[0] or name) for name in names]
    times = np.concatenate([np.empty(0, np.int64), *found])
    part = np.repeat(np.array(of, np.int64), [len(each) for each in found])
    order = np.argsort(times, kind="stable")
    times, part = times[order], part[order]
    first = np.ones(len(times), bool)
    first[1:] = times[1:] != times[:-1]
    return parts, part[first], times[first]


def local_ms(zone: str, times: Times, span: tuple[int, int]) -> Times:
    """Return what the clock on the wall showed at sorted or unsorted instants within a span, in ms since 1970."""
    pieces = transitions(ZoneInfo(zone), (span[0], max(span[1], span[0] + 1)))
    starts = np.array([start for start, _ in pieces], np.int64)
    offsets = np.array([offset for _, offset in pieces], np.int64)
    shifted: Times = times + offsets[np.searchsorted(starts, times, "right") - 1]
    return shifted
