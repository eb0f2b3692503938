"""Stretches of a record that are left out of rates: nothing reported at all, or a person says so."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from stillwell.record.columns import Column, Gap, Record, Times

NO_REPORT_MS: Final = 24 * 3_600_000
"""From how long a stretch without any row counts as a gap.

Longer than somebody at home keeps every detector silent (8.8 h at most in the 182 occupied days of the longest
recorded home), so that no silence which an alarm should notice is cut out of a rate; as short as a supervised part
allows, which reports once a day at least. A plan that waits for longer than a day needs a longer one. No outside
source.
"""

NO_REPORT: Final = "no report"
EXCLUDED: Final = "excluded"


def no_report(times: Times, at_least_ms: int = NO_REPORT_MS) -> tuple[Gap, ...]:
    """Return the gaps of ``at_least_ms`` and more between sorted ``times``: from the last row before to the first
    after. What lies before the first and after the last row is no gap: nobody says that it was recorded."""
    found = np.flatnonzero(np.diff(times) >= at_least_ms)
    starts, ends = times[found].tolist(), times[found + 1].tolist()
    return tuple(Gap(start, end, NO_REPORT) for start, end in zip(starts, ends, strict=True))


def with_no_report_gaps(record: Record, at_least_ms: int = NO_REPORT_MS) -> Record:
    """Return the record with its stretches of no report noted anew; gaps marked by a person stay."""
    marked = tuple(gap for gap in record.gaps if gap.reason != NO_REPORT)
    found = no_report(report_times(record.signals.values()), at_least_ms)
    return replace(record, gaps=_disjoint(marked, found))


def with_excluded(record: Record, stretches: Iterable[tuple[int, int]]) -> Record:
    """Return the record with stretches (start, end) marked by a person, such as months of an empty home."""
    marked = [Gap(start, end, EXCLUDED) for start, end in stretches if start < end]
    before = [gap for gap in record.gaps if gap.reason != NO_REPORT]
    rest = [gap for gap in record.gaps if gap.reason == NO_REPORT]
    return replace(record, gaps=_disjoint([*before, *marked], rest))


def _disjoint(first: Sequence[Gap], second: Sequence[Gap]) -> tuple[Gap, ...]:
    """Return gaps of which no two overlap: of the first those that do are joined, of the second what is left over."""
    joined: list[Gap] = []
    for gap in sorted(first, key=lambda gap: gap.start_ms):
        if joined and gap.start_ms <= joined[-1].end_ms:
            last = joined[-1]
            joined[-1] = Gap(last.start_ms, max(last.end_ms, gap.end_ms), last.reason)
        else:
            joined.append(gap)
    left = []
    for gap in second:
        start = gap.start_ms
        for other in joined:
            if other.end_ms > start and other.start_ms < gap.end_ms:
                if other.start_ms > start:
                    left.append(Gap(start, other.start_ms, gap.reason))
                start = max(start, other.end_ms)
        if start < gap.end_ms:
            left.append(Gap(start, gap.end_ms, gap.reason))
    return tuple(sorted((*joined, *left), key=lambda gap: gap.start_ms))


def report_times(columns: Iterable[Column]) -> Times:
    """Return the instants of all reports, sorted; two reports at one instant are there twice."""
    times = np.concatenate([np.empty(0, np.int64), *(column.times for column in columns)])
    times.sort(kind="stable")
    return times
