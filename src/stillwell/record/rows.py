"""The lines of a log, each used, ignored on purpose or malformed: the pass that looks at every line."""

import csv
import math
from array import array
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from zoneinfo import ZoneInfo

from stillwell.civiltime import instants_of_local
from stillwell.record.mapping import BLANKS, TABS, LogMapping
from stillwell.record.matching import IGNORED, UNMATCHED, Matcher, SourceRows
from stillwell.record.report import BadLine
from stillwell.record.times import Clock, clock_for, local_of

SHOWN_LINES = 5
SHOWN_CHARACTERS = 120
MOST_REASONS = 40
OTHER_REASONS = "other reasons"
NO_END = -1
_PROGRESS_EVERY = 8192

NumberedLine = tuple[int, bytes | None, int]
"""Line number from 1, the line without its end (None where it is too long to be held), bytes of the file so far."""


@dataclass(slots=True)
class Tally:
    """How many lines fared how."""

    lines: int = 0
    header: int = 0
    ignored: Counter[str] = field(default_factory=Counter)
    malformed: Counter[str] = field(default_factory=Counter)
    shown: list[BadLine] = field(default_factory=list)

    def bad(self, line: int, reason: str, text: str) -> None:
        """Count a malformed line and keep the first few. A log of something else entirely has a reason a line: of so
        many reasons the later ones are counted together."""
        known = reason in self.malformed or len(self.malformed) < MOST_REASONS
        self.malformed[reason if known else OTHER_REASONS] += 1
        if len(self.shown) < SHOWN_LINES:
            self.shown.append(BadLine(line, reason, text[:SHOWN_CHARACTERS]))


@dataclass(slots=True)
class Rows:
    """The used rows in the order of the log: time as the log's clock shows it, code of the outcome, the number of
    a number (else 0), and where rows are stretches the end (NO_END where it is not given)."""

    times: "array[int]" = field(default_factory=lambda: array("q"))
    codes: "array[int]" = field(default_factory=lambda: array("i"))
    numbers: "array[float]" = field(default_factory=lambda: array("d"))
    ends: "array[int]" = field(default_factory=lambda: array("q"))


class Bad(Exception):  # noqa: N818 - the line's fault
    """A line that cannot be used; its text is the reason."""


def read_rows(
    lines: Iterable[NumberedLine],
    mapping: LogMapping,
    matcher: Matcher,
    zone: ZoneInfo,
    progress: Callable[[int], None] | None,
) -> tuple[Rows, Tally, Clock]:
    """Read every line of a log. ``progress`` hears the bytes read so far, now and then."""
    rows, tally, clock = Rows(), Tally(), clock_for(mapping.time.written_as)
    read = _row_reader(mapping, matcher, clock, zone, rows, tally)
    header_lines, encoding, leave_out = mapping.log.header_lines, mapping.log.encoding, mapping.log.leave_out
    for line, raw, position in lines:
        tally.lines += 1
        if progress is not None and not tally.lines % _PROGRESS_EVERY:
            progress(position)
        if tally.lines <= header_lines:
            tally.header += 1
            continue
        if raw is None:
            tally.bad(line, "longer than a line may be", "")
            continue
        try:
            text = raw.decode(encoding)
        except UnicodeDecodeError:
            tally.bad(line, f"not {encoding} text", raw.decode("ascii", "replace"))
            continue
        if tally.lines == 1:
            text = text.removeprefix("\ufeff")
        if leave_out and text.startswith(leave_out):
            tally.ignored[next(f"begins with {start!r}" for start in leave_out if text.startswith(start))] += 1
            continue
        try:
            read(text)
        except Bad as reason:
            if text.strip():
                tally.bad(line, str(reason), text)
            else:
                tally.ignored["empty line"] += 1
    return rows, tally, clock


def _row_reader(
    mapping: LogMapping, matcher: Matcher, clock: Clock, zone: ZoneInfo, rows: Rows, tally: Tally
) -> Callable[[str], None]:
    """Return what takes one line apart and adds it to ``rows``, or raises Bad."""
    split = splitter(mapping.log.separator, mapping.log.quoted)
    time_at, value_at = mapping.columns.time - 1, (mapping.columns.value or 0) - 1
    source_at = [column - 1 for column in mapping.columns.source]
    end_at = (mapping.columns.end or mapping.columns.length or 0) - 1
    only_source = source_at[0] if len(source_at) == 1 else None
    few = f"fewer than {max(time_at, value_at, end_at, *source_at) + 1} columns"
    read_time, read_end = clock.read, _end_reader(mapping, clock, zone)
    of_source, decimal_comma = matcher.sources, mapping.log.decimal == ","
    add_time, add_code, add_number, add_end = (
        rows.times.append,
        rows.codes.append,
        rows.numbers.append,
        rows.ends.append,
    )

    def read(text: str) -> None:
        fields = split(text)
        try:
            if only_source is not None:
                source = fields[only_source].strip()
            else:
                source = "/".join([fields[at].strip() for at in source_at])
            value = fields[value_at].strip() if value_at >= 0 else ""
            time = fields[time_at].strip()
            end_text = fields[end_at].strip() if end_at >= 0 else ""
        except IndexError:
            raise Bad(few) from None
        found = of_source.get(source) or matcher.rows_of(source)
        if found is None:
            raise Bad(f"nothing is said of the source {source[:40]!r}")
        code, number = found.by_value.get(value, UNMATCHED), 0.0
        if code == UNMATCHED:
            code, number = _other(found, source, value.replace(",", ".") if decimal_comma else value)
        if code == IGNORED:
            tally.ignored[found.why.get(value) or found.why[None]] += 1
            return
        try:
            ms = read_time(time)
        except ValueError:
            raise Bad("the time is not written as the mapping says") from None
        if end_at >= 0:
            add_end(read_end(ms, end_text))
        add_time(ms)
        add_code(code)
        add_number(number)

    return read


def _other(found: SourceRows, source: str, value: str) -> tuple[int, float]:
    """The code and number of a row whose value no rule names."""
    if found.number is not None:
        if value in found.unknown:
            return found.number, math.nan
        try:
            number = float(value)
        except ValueError:
            number = math.inf
        if math.isinf(number) or "_" in value:
            raise Bad(f"the value of {source} is no number")
        return found.number, number
    if found.other is None:
        raise Bad(f"nothing is said of the value {value[:20]!r} of {source}")
    return found.other, 0.0


def _end_reader(mapping: LogMapping, clock: Clock, zone: ZoneInfo) -> Callable[[int, str], int]:
    """Return what reads the end of a row that starts at the time given, on the same clock."""

    def length(_start: int, text: str) -> int:
        try:
            seconds = float(text.replace(",", "."))
        except ValueError:
            seconds = -1
        if not 0 <= seconds < math.inf:
            raise Bad("the length is no number of seconds")
        return round(seconds * 1000)

    def end(start: int, text: str) -> int:
        if not text:
            return NO_END
        try:
            ms = clock.read(text)
        except ValueError:
            raise Bad("the end is not written as the mapping says") from None
        if ms < start and (clock.is_utc or not _later(zone, start, ms)):
            raise Bad("it ends before it starts")
        return ms

    return length if mapping.columns.length else end


def _later(zone: ZoneInfo, start: int, end: int) -> bool:
    """Whether a local time can be later than one the clock showed later: the clocks went back between them."""
    starts, ends = instants_of_local(zone, local_of(start)), instants_of_local(zone, local_of(end))
    return bool(starts) and bool(ends) and ends[-1] >= starts[0]


def splitter(separator: str, quoted: bool) -> Callable[[str], list[str]]:
    """Return what takes a line apart into columns."""
    if separator == BLANKS:
        return str.split
    if separator == TABS:
        return lambda text: [column for column in text.split("\t") if column]
    if quoted:
        return lambda text: _quoted(text, separator)
    return lambda text: text.split(separator)


def _quoted(text: str, separator: str) -> list[str]:
    if '"' not in text:
        return text.split(separator)
    try:
        return next(iter(csv.reader([text], delimiter=separator, strict=True)), [])
    except csv.Error:
        raise Bad("the quotes do not match") from None


def numbered(lines: Iterable[bytes | str]) -> Iterator[NumberedLine]:
    """Give lines that are at hand the shape in which a file is read."""
    position = 0
    for line, content in enumerate(lines, 1):
        raw = content.encode() if isinstance(content, str) else content
        position += len(raw) + 1
        yield line, raw.rstrip(b"\r\n"), position
