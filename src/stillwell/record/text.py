"""A record as text: for timelines written by hand, and for an installation without Parquet.

    # zone: Europe/London
    # span: 2026-01-05T00:00:00.000Z 2026-01-06T00:00:00.000Z
    time,signal,value
    2026-01-05T07:12:30.250Z,hall_pir.movement,
    2026-01-05T07:13:00.000Z,front_door.open,true
    2026-01-05T07:20:00.000Z,hall_air.temperature,18.5

A pulse has no value, a level is true, false or unknown, a number a number or nan. Times carry Z or an offset. Only
the zone and the heading must be there; the span is else that of the rows. Comment lines ``# gap: FROM TO REASON``,
``# events: N``, ``# malformed: N``, ``# late: N`` and, for a signal without rows, ``# signal: NAME KIND`` keep what
else a record knows.
"""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Final

import numpy as np

from stillwell.civiltime import find_zone, nearest_zone_names
from stillwell.problem import Place, Problem, Refusal
from stillwell.record.columns import FALSE, TRUE, UNKNOWN, Column, Gap, Pulses, Record, Steps, kind_of
from stillwell.record.gaps import report_times
from stillwell.record.times import ISO_OFFSET, clock_for

HEADING: Final = "time,signal,value"
_LEVELS: Final = {"false": FALSE, "unknown": UNKNOWN, "true": TRUE}
_WORDS: Final = {level: word for word, level in _LEVELS.items()}
_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
_NAME: Final = re.compile(r"[a-z][a-z0-9_]*(\.[a-z][a-z0-9_]*)?")
_EXAMPLE: Final = "Write rows such as 2026-01-05T07:12:30.250Z,hall_pir.movement,"
_MOST_PROBLEMS: Final = 20
_NOTES: Final = {
    "zone": "Europe/London",
    "span": "2026-01-05T00:00:00Z 2026-01-06T00:00:00Z",
    "gap": "2026-01-05T00:00:00Z 2026-01-06T00:00:00Z excluded",
    "events": "12",
    "malformed": "0",
    "late": "0",
    "signal": "hall_pir.movement pulse",
}


def write_text(record: Record) -> Iterator[str]:
    """Yield the lines of a record, without their ends; ``read_text`` gives an equal record back."""
    yield f"# zone: {record.zone}"
    yield f"# span: {iso(record.span[0])} {iso(record.span[1])}"
    for gap in record.gaps:
        yield f"# gap: {iso(gap.start_ms)} {iso(gap.end_ms)} {gap.reason}"
    names = sorted(record.signals)
    counts = {"events": record.events, "malformed": record.malformed, "late": record.late}
    usual = {"events": sum(len(column.times) for column in record.signals.values()), "malformed": 0, "late": 0}
    for key, count in counts.items():
        if count != usual[key]:
            yield f"# {key}: {count}"
    for name in names:
        if not len(record.signals[name].times):
            yield f"# signal: {name} {kind_of(record.signals[name])}"
    yield HEADING
    times = [record.signals[name].times for name in names]
    owner = np.repeat(np.arange(len(names)), [len(each) for each in times])
    within = np.concatenate([np.empty(0, np.intp), *(np.arange(len(each)) for each in times)])
    for row in np.argsort(np.concatenate([np.empty(0, np.int64), *times]), kind="stable").tolist():
        name, index = names[owner[row]], within[row]
        column = record.signals[name]
        yield f"{iso(int(column.times[index]))},{name},{_value(column, index)}"


def read_text(lines: Iterable[str], file: str = "") -> Record:
    """Read a record from its lines. Raises Refusal with every line that is wrong (the first 20)."""
    reading = _Reading(file)
    for number, line in enumerate(lines, 1):
        if len(reading.problems) >= _MOST_PROBLEMS:
            break
        reading.take(number, line.strip())
    return reading.record()


def iso(ms: int) -> str:
    """An instant as ISO 8601, UTC, with milliseconds."""
    moment = (_EPOCH + timedelta(milliseconds=ms)).replace(tzinfo=None)
    return moment.isoformat(timespec="milliseconds") + "Z"


def _value(column: Column, index: int) -> str:
    match kind_of(column), column:
        case "level", Steps(values=values):
            return _WORDS[int(values[index])]
        case "number", Steps(values=values):
            return repr(float(values[index]))
        case _:
            return ""


@dataclass(slots=True)
class _Reading:
    """What has been read so far."""

    file: str
    problems: list[Problem] = field(default_factory=list)
    zone: str = ""
    span: tuple[int, int] | None = None
    gaps: list[Gap] = field(default_factory=list)
    counts: dict[str, int] = field(default_factory=dict)
    kinds: dict[str, str] = field(default_factory=dict)
    rows: dict[str, dict[int, float]] = field(default_factory=dict)
    headed: bool = False

    def take(self, number: int, line: str) -> None:
        """Take in one line."""
        try:
            if line.startswith("#"):
                key, _, rest = line[1:].partition(":")
                self._note(key.strip(), rest.strip())
            elif line == HEADING and not self.headed:
                self.headed = True
            elif line and not self.headed:
                self.headed = True  # told once
                self._wrong(number, f"the heading {HEADING} must stand above the rows", f"Add the line {HEADING}.")
            elif line:
                self._row(*self._parts(line))
        except _Wrong as wrong:
            self._wrong(number, wrong.what, wrong.remedy)

    def record(self) -> Record:
        """Return the record, or raise Refusal with all that was wrong."""
        if not self.zone and not self.problems:
            self._wrong(1, "the time zone is missing", "Add a line such as # zone: Europe/London at the top.")
        signals = {name: self._column(name, kind) for name, kind in self.kinds.items()}
        times = report_times(signals.values())
        if self.span is None and not len(times) and not self.problems:
            self._wrong(1, "this record is empty", _EXAMPLE)
        if self.problems:
            raise Refusal(self.problems)
        span = self.span or (int(times[0]), int(times[-1]) + 1)
        if len(times) and not span[0] <= times[0] <= times[-1] < span[1]:
            raise Refusal(Problem("rows lie outside of the span", Place(self.file), "Mend the line # span."))
        counts = {"events": len(times), **self.counts}
        return Record(self.zone, span, signals, tuple(self.gaps), **counts)

    def _wrong(self, line: int, what: str, remedy: str) -> None:
        self.problems.append(Problem(what, Place(self.file, line), remedy))

    def _note(self, key: str, text: str) -> None:
        match key, text.split(maxsplit=2):
            case "zone", [zone]:
                if find_zone(zone) is None:
                    near = ", ".join(nearest_zone_names(zone)) or "Europe/London"
                    raise _Wrong(f"there is no time zone {zone}", f"Did you mean {near}?")
                self.zone = zone
            case "span", [start, end]:
                self.span = (_instant(start), _instant(end))
                if self.span[0] >= self.span[1]:
                    raise _Wrong("the span ends before it starts", "Write the earlier time first.")
            case "gap", [start, end, reason]:
                self.gaps.append(Gap(_instant(start), _instant(end), reason))
            case (("events" | "malformed" | "late"), [count]) if count.isdecimal():
                self.counts[key] = int(count)
            case "signal", [name, ("pulse" | "level" | "number") as kind]:
                self._set_kind(name, kind)
            case _ if key in _NOTES:
                raise _Wrong(f"this line about the {key} cannot be read", f"Write # {key}: {_NOTES[key]}")
            case _:
                return  # a remark

    def _parts(self, line: str) -> tuple[str, str, str]:
        match [part.strip() for part in line.split(",")]:
            case [time, name, value]:
                return time, name, value
            case [time, name]:
                return time, name, ""
            case _:
                raise _Wrong("a row has three columns: time, signal, value", _EXAMPLE)

    def _row(self, time: str, name: str, text: str) -> None:
        if not _NAME.fullmatch(name):
            raise _Wrong(f"{name!r} is no name of a signal", "Names are small letters, digits, _ and one dot.")
        ms = _instant(time)
        kind, value = _read_value(text)
        self._set_kind(name, kind)
        rows = self.rows.setdefault(name, {})
        if ms in rows:
            raise _Wrong(f"{name} reports twice at {time}", "Keep one of the two rows.")
        rows[ms] = value

    def _set_kind(self, name: str, kind: str) -> None:
        known = self.kinds.setdefault(name, kind)
        if known != kind:
            raise _Wrong(f"{name} was a {known} above and is a {kind} here", "A signal keeps its kind.")

    def _column(self, name: str, kind: str) -> Column:
        rows = sorted(self.rows.get(name, {}).items())
        times = np.array([row[0] for row in rows], np.int64)
        if kind == "pulse":
            return Pulses(times)
        values = [row[1] for row in rows]
        return Steps(times, np.array(values, np.int8) if kind == "level" else np.array(values, np.float64))


class _Wrong(Exception):  # noqa: N818 - the line's fault
    def __init__(self, what: str, remedy: str) -> None:
        self.what, self.remedy = what, remedy
        super().__init__(what)


_read_clock: Final = clock_for(ISO_OFFSET).read


def _instant(text: str) -> int:
    try:
        return _read_clock(text)
    except ValueError:
        raise _Wrong(f"{text!r} is no time with Z or an offset", "Write 2026-01-05T07:12:30Z.") from None


def _read_value(text: str) -> tuple[str, float]:
    if not text:
        return "pulse", 1.0
    if text in _LEVELS:
        return "level", _LEVELS[text]
    try:
        return "number", float(text)
    except ValueError:
        raise _Wrong(f"{text!r} is no value", "Leave a pulse empty; write true, false, unknown or a number.") from None
