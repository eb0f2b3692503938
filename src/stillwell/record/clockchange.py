"""Whether a log followed the change of the clocks, told by the habits of who lives there.

A household keeps to the clock on the wall. A log whose clock did not follow a change is off by it from then on, and
the days seem to begin by that much earlier or later. The beginning of a day is when a tenth of its signs of life
have come; the medians over the occupied days before and after the change are compared, their error taken from the
spread of the days (quartiles, as of a normal distribution).
"""

import math
from collections.abc import Collection
from dataclasses import dataclass
from typing import Final, Literal, TypeAlias
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from stillwell.civiltime import transitions
from stillwell.record.columns import Record, Times
from stillwell.record.gaps import report_times
from stillwell.record.presence import DAY_MS, HOUR_MS, Presence, life_signals

MINUTE_MS: Final = 60_000
DAYS_EACH_SIDE: Final = 28
FEWEST_DAYS: Final = 4
NIGHT_ENDS_MS: Final = 4 * HOUR_MS
"""Signs before four in the morning are of the night before."""
BEGUN: Final = 0.1
FEWEST_SIGNS: Final = 20
ODDS: Final = 20.0
"""By so much one reading must be likelier than the other, and lie within half a change of what is measured."""
_MEDIAN_ERROR: Final = 1.2533  # of a median against a mean, normal: the root of pi / 2
_QUARTILES: Final = 1.349  # between the quartiles of a normal distribution, in standard deviations


Verdict: TypeAlias = Literal["agrees", "not followed", "cannot tell"]


@dataclass(frozen=True, slots=True)
class ClockChange:
    """A change of the clocks within a record: forward by ``change_min`` (back: negative).

    ``shift_min`` is by how much later the days seem to begin after it, with its standard error, from so many days
    before and after. "agrees": the log followed; "not followed": it went on with the old time; else "cannot tell".
    """

    at_ms: int
    change_min: int
    verdict: Verdict
    shift_min: float | None
    error_min: float | None
    days: tuple[int, int]


def clock_changes(record: Record, there: Presence, signs_of_life: Collection[str] | None = None) -> list[ClockChange]:
    """Return the changes of the clocks in the record's zone within its span, each judged."""
    pieces = transitions(ZoneInfo(record.zone), record.span)
    if len(pieces) == 1:
        return []
    starts = np.array([piece[0] for piece in pieces], np.int64)
    offsets = np.array([piece[1] for piece in pieces], np.int64)
    life = report_times([record.signals[name] for name in life_signals(record, signs_of_life)])
    days, begun = _beginnings(life + offsets[np.searchsorted(starts, life, "right") - 1], there, starts, offsets)
    return [
        _judged(int(at), int(offset - before), days, begun, int((at + offset) // DAY_MS))
        for at, offset, before in zip(starts[1:], offsets[1:], offsets[:-1], strict=True)
    ]


def _beginnings(local: Times, there: Presence, starts: Times, offsets: Times) -> tuple[Times, NDArray[np.float64]]:
    """Return the whole occupied local days with enough signs of life, and when each began, in minutes."""
    day_of = (local - NIGHT_ENDS_MS) // DAY_MS
    days, first, counts = np.unique(day_of, return_index=True, return_counts=True)
    noon = days * DAY_MS + DAY_MS // 2
    noon -= offsets[np.clip(np.searchsorted(starts + offsets, noon, "right") - 1, 0, None)]
    lived = np.zeros(len(days), np.bool_)
    for run in there.runs:
        lived |= (noon - DAY_MS // 2 >= run.start_ms) & (noon + DAY_MS // 2 <= run.end_ms)
    kept = lived & (counts >= FEWEST_SIGNS)
    at = first[kept] + (counts[kept] * BEGUN).astype(np.int64)
    return days[kept], (local[at] - days[kept] * DAY_MS) / MINUTE_MS


def _judged(at_ms: int, change_ms: int, days: Times, begun: NDArray[np.float64], day: int) -> ClockChange:
    before, after = begun[days < day][-DAYS_EACH_SIDE:], begun[days >= day][:DAYS_EACH_SIDE]
    counts, change = (len(before), len(after)), change_ms // MINUTE_MS
    if min(counts) < FEWEST_DAYS:
        return ClockChange(at_ms, change, "cannot tell", None, None, counts)
    shift = float(np.median(after) - np.median(before))
    error = float(np.hypot(_error(before), _error(after)))
    return ClockChange(at_ms, change, _verdict(shift, error, change), shift, error, counts)


def _verdict(shift: float, error: float, change: int) -> Verdict:
    followed, unfollowed = abs(shift), abs(shift + change)
    sure = abs(unfollowed**2 - followed**2) > 2 * error**2 * math.log(ODDS)
    if not sure or min(followed, unfollowed) > abs(change) / 2:
        return "cannot tell"
    return "agrees" if followed < unfollowed else "not followed"


def _error(values: NDArray[np.float64]) -> float:
    """The standard error of the median."""
    low, high = np.quantile(values, [0.25, 0.75])
    return float(_MEDIAN_ERROR * (high - low) / _QUARTILES / np.sqrt(len(values)))
