"""A foreign log to a record: every line counted, none silently dropped."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np

from stillwell.problem import Refusal, refuse
from stillwell.record.columns import Record
from stillwell.record.gaps import NO_REPORT_MS, no_report, report_times
from stillwell.record.mapping import LogMapping
from stillwell.record.matching import Matcher
from stillwell.record.report import About, ImportReport
from stillwell.record.rows import NO_END, NumberedLine, Rows, Tally, read_rows
from stillwell.record.sorting import UsedRows, columns_of
from stillwell.record.times import Clock, resolve

REPEAT = "exact repeat of a row"


@dataclass(frozen=True, slots=True)
class Imported:
    """A record made of a log, what became of the log's lines, and what is kept beside the record."""

    record: Record
    report: ImportReport
    about: About


def import_lines(
    lines: Iterable[NumberedLine],
    mapping: LogMapping,
    progress: Callable[[int], None] | None = None,
    *,
    file: str = "",
    no_report_ms: int = NO_REPORT_MS,
) -> Imported:
    """Make a record of a log.

    ``lines`` come as from ``files.lines``; ``progress`` hears the bytes used so far. Rows out of order are sorted in
    and exact repeats left out, both counted. Stretches of ``no_report_ms`` and more without any row become gaps.

    Raises Refusal where no line can be used.
    """
    zone, matcher = ZoneInfo(mapping.zone), Matcher(mapping)
    rows, tally, clock = read_rows(lines, mapping, matcher, zone, progress)
    if not rows.times:
        raise _nothing_usable(tally, mapping, file)
    placed, skipped, repeated = _place(rows, clock, zone, mapping)
    late = int((placed.times < np.maximum.accumulate(placed.times)).sum())
    kept = _without_repeats(placed)
    if repeats := len(placed.times) - len(kept.times):
        tally.ignored[REPEAT] += repeats
    signals, merged = columns_of(kept, matcher.outcomes)
    times = report_times(signals.values())
    report = ImportReport(
        lines=tally.lines,
        header=tally.header,
        used=len(kept.times),
        ignored=dict(tally.ignored),
        malformed=dict(tally.malformed),
        shown=tuple(tally.shown),
        late=late,
        skipped_hour=skipped,
        repeated_hour=repeated,
        merged=merged,
        without_rows=_without_rows(matcher, signals),
    )
    record = Record(
        zone=mapping.zone,
        span=(int(times[0]), int(times[-1]) + 1),
        signals=signals,
        gaps=no_report(times, no_report_ms),
        events=len(times),
        malformed=tally.malformed.total(),
        late=late,
    )
    return Imported(record, report, About(mapping.origin, matcher.units, report))


def _place(rows: Rows, clock: Clock, zone: ZoneInfo, mapping: LogMapping) -> tuple[UsedRows, int, int]:
    """Bring the rows from the log's clock to instants; also count times in skipped and in repeated hours."""
    times = np.array(rows.times, np.int64)
    codes, numbers = np.array(rows.codes, np.int32), np.array(rows.numbers, np.float64)
    skipped = repeated = 0
    if not clock.is_utc:
        resolved = resolve(zone, times)
        times, skipped, repeated = resolved.times, resolved.skipped, resolved.repeated
    if not mapping.has_end:
        return UsedRows(times, codes, numbers, None), skipped, repeated
    ends = np.array(rows.ends, np.int64)
    if mapping.columns.length:
        return UsedRows(times, codes, numbers, times + ends), skipped, repeated
    given = ends != NO_END
    if not clock.is_utc:
        resolved = resolve(zone, ends[given], not_before=times[given])
        ends[given] = resolved.times
        skipped, repeated = skipped + resolved.skipped, repeated + resolved.repeated
    ends[given] = np.maximum(ends[given], times[given])
    return UsedRows(times, codes, numbers, ends), skipped, repeated


def _without_repeats(rows: UsedRows) -> UsedRows:
    """Drop each row that says exactly what an earlier one said of the same instant."""
    ends = rows.times if rows.ends is None else rows.ends
    keys = (rows.numbers.view(np.int64), ends, rows.codes, rows.times)
    order = np.lexsort(keys)
    same = np.ones(len(order) - 1, np.bool_)
    for key in keys:
        ranked = key[order]
        same &= ranked[1:] == ranked[:-1]
    if not same.any():
        return rows
    kept = np.sort(order[np.append(np.True_, ~same)])
    kept_ends = None if rows.ends is None else rows.ends[kept]
    return UsedRows(rows.times[kept], rows.codes[kept], rows.numbers[kept], kept_ends)


def _without_rows(matcher: Matcher, signals: Iterable[str]) -> tuple[str, ...]:
    reporting = {name.partition(".")[0] for name in signals}
    named = dict.fromkeys(outcome.signal.partition(".")[0] for outcome in matcher.outcomes)
    return tuple(part for part in named if part not in reporting)


def _nothing_usable(tally: Tally, mapping: LogMapping, file: str) -> Refusal:
    """Say why a log gave nothing, by its most frequent fault."""
    others = tally.ignored.total()
    if not tally.malformed:
        if tally.lines == tally.header + tally.ignored["empty line"]:
            return refuse("this log is empty", "Name the file that holds the rows.", file=file)
        return refuse(
            f"no line of this log is used: all {others} are left out by the mapping",
            "Check [[ignore]] and leave_out in the mapping.",
            file=file,
        )
    reason, count = tally.malformed.most_common(1)[0]
    first = next((bad for bad in tally.shown if bad.reason == reason), tally.shown[0])
    remedy = "Check that the mapping fits this log."
    if reason.startswith("fewer than"):
        remedy = f"Check separator in the mapping ({mapping.log.separator!r}) and the numbers in [columns]."
    elif "time" in reason:
        remedy = f"Check written_as in the mapping ({mapping.time.written_as!r}) and the number of the time column."
    return refuse(
        f"no line of this log can be used; {count} of {tally.lines}: {reason}. The first: {first.text!r}",
        remedy,
        file=file,
        line=first.line,
    )
