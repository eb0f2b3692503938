"""False alarms counted on untouched days, and silence begun at every instant, integrated exactly.

A silence is false-alarmed if the alarm comes before it ends: once, for the alarm re-arms only at the next sign of life.
Silence that begins at t, between one sign and the next, is told of when the alarm that the last sign armed comes; where
that stands already the delay is 0. So the delay falls with slope -1 within each silence, and its distribution over all
t is a sum of ramps (``stillwell.replay.distribution``).
"""

from dataclasses import dataclass

import numpy as np

from stillwell.replay.distribution import Pieces, Spread, spread
from stillwell.replay.rates import Rate, rate
from walkforward.stream import DAY_MS, NEVER_MS, Stream

DAY_FROM, DAY_UNTIL = 8, 22


@dataclass(frozen=True)
class Verdict:
    """What a method did on some days: false alarms, and the delay over all onsets and over those of 08-22 h.

    ``at_home`` and ``at_home_by_day`` leave out onsets while, looking back, somebody was out.
    """

    false: Rate
    whole: Spread
    by_day: Spread
    at_home: Spread
    at_home_by_day: Spread
    days: int


def judged(stream: Stream, days: np.ndarray) -> np.ndarray:
    """Return the indices of the signs on the given days after which silence is judged."""
    return np.flatnonzero(np.isin(stream.day, days) & stream.judgeable)


def false_alarms(stream: Stream, signs: np.ndarray, told: np.ndarray) -> np.ndarray:
    """Tell for each sign whether the alarm came though a sign followed, or the record ended, later."""
    return told < stream.ends[signs]


def pieces_of(stream: Stream, signs: np.ndarray, told: np.ndarray) -> Pieces:
    """Return the onsets of silence after each sign, and when each is told of."""
    starts, ends = stream.times[signs], stream.ends[signs]
    standing = np.minimum(told, ends)
    both = np.repeat([False, True], len(signs))
    whole = Pieces(np.append(starts, standing), np.append(standing, ends), np.append(told, told), both)
    return whole.pick(whole.start < whole.end)


def judge(stream: Stream, days: np.ndarray, told: np.ndarray) -> Verdict:
    """Judge alarm times, one for each sign of the stream, on some days."""
    signs = judged(stream, days)
    here = told[signs]
    count = int(false_alarms(stream, signs, here).sum())
    inside = ~stream.out[signs]
    return Verdict(
        rate(count, len(days) * DAY_MS),
        *_spreads(stream, pieces_of(stream, signs, here)),
        *_spreads(stream, pieces_of(stream, signs[inside], here[inside])),
        len(days),
    )


def _spreads(stream: Stream, pieces: Pieces) -> tuple[Spread, Spread]:
    """Return the delay over all onsets, and over those by day."""
    starts, names = stream.hours
    cut = pieces.cut(starts)
    hour = names[np.maximum(np.searchsorted(starts, cut.start, "right") - 1, 0)]
    return spread(pieces), spread(cut.pick((hour >= DAY_FROM) & (hour < DAY_UNTIL)))


BIN_MS = 120_000
BINS = 48 * 30


def delays_by_day(stream: Stream, days: np.ndarray, told: np.ndarray, *, daytime: bool = False) -> np.ndarray:
    """Return for each day how much time its onsets spend at each delay, in bins of two minutes: (days, bins), ms.

    Only for intervals: to draw days anew, thousands of times, the ramps are put into bins, each its exact share. What
    is longer than two days is in the last bin.
    """
    signs = judged(stream, days)
    pieces = pieces_of(stream, signs, told[signs])
    starts, names = stream.hours
    if daytime:
        pieces = pieces.cut(starts)
        hour = names[np.maximum(np.searchsorted(starts, pieces.start, "right") - 1, 0)]
        pieces = pieces.pick((hour >= DAY_FROM) & (hour < DAY_UNTIL))
    row = np.searchsorted(stream.times, pieces.start, "right") - 1
    row = np.searchsorted(days, stream.day[row])
    most = np.where(pieces.standing, 0, np.minimum(pieces.told, pieces.start + 2 * DAY_MS) - pieces.start)
    length = pieces.end - pieces.start
    least = np.where(pieces.standing, 0, np.maximum(most - length, 0))
    ramp = most > least
    # time spent at delays below an edge: a second difference of ramps, summed up twice
    slope = np.zeros((len(days), BINS + 2))
    for at, sign in ((least[ramp], 1.0), (most[ramp], -1.0)):
        bin_, part = at // BIN_MS, (at % BIN_MS) / BIN_MS
        bin_ = np.minimum(bin_, BINS)
        np.add.at(slope, (row[ramp], bin_), sign * (1 - part))
        np.add.at(slope, (row[ramp], np.minimum(bin_ + 1, BINS + 1)), sign * part)
    density = np.cumsum(slope, 1)[:, :BINS] * BIN_MS
    jump = ~ramp
    np.add.at(density, (row[jump], np.minimum(most[jump] // BIN_MS, BINS - 1)), length[jump])
    return density


def block_interval(density: np.ndarray, share: float, draws: int = 400, seed: int = 1) -> tuple[float, float]:
    """Return the 95 % interval of a quantile of the delay in s, whole days drawn anew with replacement."""
    rng = np.random.default_rng(seed)
    counts = rng.multinomial(len(density), np.full(len(density), 1 / len(density)), draws)
    mass = np.cumsum(counts @ density, 1)
    found = (mass < share * mass[:, -1:]).sum(1) + 0.5
    low, high = np.quantile(found * BIN_MS / 1000, (0.025, 0.975))
    return float(low), float(high)


__all__ = ["NEVER_MS", "Verdict", "block_interval", "delays_by_day", "false_alarms", "judge", "judged", "pieces_of"]
