"""What became of the lines of a log, in sentences."""

from collections.abc import Iterator

from stillwell.record.report import ImportReport
from stillwell.wording.counting import counted, listed


def import_sentences(report: ImportReport) -> Iterator[str]:
    """Say what became of every line; nothing is said of what did not happen."""
    yield f"{counted(report.lines, 'line')}: {report.used:,} used, {_left_out(report)}, {_malformed(report)}."
    for reason, count in report.ignored.items():
        yield f"Left out: {counted(count, 'line')}: {reason}."
    for reason, count in report.malformed.items():
        yield f"Could not be read: {counted(count, 'line')}: {reason}."
    if report.late:
        yield f"{_times(report.late)} stood after a later line and {_was(report.late)} sorted in."
    if report.skipped_hour:
        yield f"{_times(report.skipped_hour)} fell into an hour that the clocks skipped: moved to its end."
    if report.repeated_hour:
        yield f"{_times(report.repeated_hour)} fell into an hour that came twice: told apart by the order of the lines."
    if report.merged:
        yield f"{counted(report.merged, 'report')} fell into one millisecond with another of the same signal."
    if report.without_rows:
        yield f"No line speaks of {listed(report.without_rows, 'or')}."


def _left_out(report: ImportReport) -> str:
    ignored = sum(report.ignored.values())
    header = f"{counted(report.header, 'heading')}, " if report.header else ""
    return f"{header}{ignored:,} left out on purpose"


def _malformed(report: ImportReport) -> str:
    return f"{sum(report.malformed.values()):,} that could not be read"


def _times(count: int) -> str:
    return counted(count, "line")


def _was(count: int) -> str:
    return "was" if count == 1 else "were"
