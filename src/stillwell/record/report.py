"""What became of every line of a foreign log, and where a record is from."""

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class BadLine:
    """A line that could not be used: its number from 1, why, and its beginning."""

    line: int
    reason: str
    text: str


@dataclass(frozen=True, slots=True)
class ImportReport:
    """What became of the lines of a log.

    Each line is counted exactly once: ``lines`` = ``header`` + ``used`` + all of ``ignored`` + all of ``malformed``.
    ``ignored`` and ``malformed`` map a reason to a number of lines; ``shown`` holds the first malformed ones.

    Of the lines used: ``late`` stood after a line of a later time and were sorted in; ``skipped_hour`` and
    ``repeated_hour`` count times on the local clock that never were (moved to the end of the gap) or were twice
    (told apart by the order of the lines); ``merged`` counts reports of one signal within one millisecond beyond
    the first: a pulse is one pulse, of levels and numbers the last stands. ``without_rows`` names parts of the
    mapping that no row speaks of.
    """

    lines: int = 0
    header: int = 0
    used: int = 0
    ignored: Mapping[str, int] = field(default_factory=dict)
    malformed: Mapping[str, int] = field(default_factory=dict)
    shown: tuple[BadLine, ...] = ()
    late: int = 0
    skipped_hour: int = 0
    repeated_hour: int = 0
    merged: int = 0
    without_rows: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class About:
    """What is kept beside the signals of a record: one sentence of origin, the unit of each number, the import."""

    origin: str = ""
    units: Mapping[str, str] = field(default_factory=dict)
    report: ImportReport | None = None
