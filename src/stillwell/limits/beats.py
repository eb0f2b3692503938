"""When the recorder or the radio hub was off for less than a day: nothing at all came, though some parts report by the
clock. Without such parts it cannot be told from a resident who lies still, and is not guessed."""

from collections.abc import Iterator
from typing import Final

import numpy as np

from stillwell.record.columns import Record, Times
from stillwell.record.gaps import NO_REPORT_MS, report_times
from stillwell.record.presence import DAY_MS, HOUR_MS

BEATS_WITHIN_MS: Final = 4 * HOUR_MS
COVERED: Final = 0.95
"""A part beats if pauses of four hours and less fill 95 % of its life: nobody's nights leave room for that."""
MISSED_BEATS: Final = 3
OFF_LEAST_MS: Final = HOUR_MS
SEEN_LEAST_MS: Final = 3 * DAY_MS


def silent_recorder(record: Record) -> Iterator[tuple[int, int]]:
    """Yield stretches of less than a day in which nothing came, though a part that beats had three beats to send.

    Stretches of a day and more are gaps of the record already.
    """
    beat_ms = shortest_beat_ms(record)
    if beat_ms is None:
        return
    least = max(OFF_LEAST_MS, MISSED_BEATS * beat_ms)
    times = report_times(record.signals.values())
    pauses = np.diff(times)
    for at in np.flatnonzero((pauses >= least) & (pauses < NO_REPORT_MS)).tolist():
        yield int(times[at]), int(times[at + 1])


def shortest_beat_ms(record: Record) -> int | None:
    """Return the pause that the most regular part keeps to for 95 % of its life; None where none is regular."""
    by_part: dict[str, list[Times]] = {}
    for name, column in record.signals.items():
        by_part.setdefault(name.partition(".")[0], []).append(column.times)
    beats = [beat for times in by_part.values() if (beat := _beat(np.unique(np.concatenate(times)))) is not None]
    return min(beats, default=None)


def _beat(times: Times) -> int | None:
    if len(times) < 2 or times[-1] - times[0] < SEEN_LEAST_MS:
        return None
    # A stretch of no report at all counts as one missed day, however long it was.
    pauses = np.sort(np.minimum(np.diff(times), NO_REPORT_MS))
    covered = np.cumsum(pauses)
    beat = int(pauses[np.searchsorted(covered, COVERED * covered[-1])])
    return beat if beat <= BEATS_WITHIN_MS else None
