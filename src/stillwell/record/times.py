"""Times as a log writes them, to milliseconds; local clock times to instants."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from stillwell.civiltime import transitions
from stillwell.record.columns import Times

ISO: Final = "ISO 8601"
ISO_OFFSET: Final = "ISO 8601 with offset"
EPOCH_SECONDS: Final = "epoch seconds"
EPOCH_MILLISECONDS: Final = "epoch milliseconds"
EPOCH_LOCAL: Final = "epoch seconds of the local clock"
NAMED_FORMATS: Final = (ISO, ISO_OFFSET, EPOCH_SECONDS, EPOCH_MILLISECONDS, EPOCH_LOCAL)

EARLIEST_MS: Final = 0
LATEST_MS: Final = 7_258_118_400_000
"""1970 and 2200: a time outside is a misread column, and would stretch the record over centuries."""

_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
_NAIVE_EPOCH: Final = _EPOCH.replace(tzinfo=None)
_DAY_MS: Final = 86_400_000
_KEPT: Final = 4096  # parsed texts held at once
_TAILS: Final = ("%H:%M:%S", "%H:%M:%S.%f", "%H:%M:%S,%f")


@dataclass(frozen=True, slots=True)
class Clock:
    """How a log tells the time.

    ``read`` turns text into milliseconds since 1970, UTC where ``is_utc``, else as the local clock showed it.
    What is finer than a millisecond is cut off. It raises ValueError on any other text.
    """

    read: Callable[[str], int]
    is_utc: bool


def clock_for(written_as: str) -> Clock:
    """Return the reader of a format: one of NAMED_FORMATS, or a pattern such as ``%d-%b-%Y %H:%M:%S``.

    Patterns use the codes of ``datetime.strptime``, month names in English. Raises ValueError where the pattern
    does not fix a date.
    """
    match written_as:
        case "ISO 8601":
            return Clock(_within(_read_iso), is_utc=False)
        case "ISO 8601 with offset":
            return Clock(_within(_read_iso_offset), is_utc=True)
        case "epoch seconds":
            return Clock(_within(_read_seconds), is_utc=True)
        case "epoch milliseconds":
            return Clock(_within(_read_milliseconds), is_utc=True)
        case "epoch seconds of the local clock":
            return Clock(_within(_read_seconds), is_utc=False)
        case _:
            return _pattern_clock(written_as)


def _within(read: Callable[[str], int]) -> Callable[[str], int]:
    def checked(text: str) -> int:
        ms = read(text)
        if not EARLIEST_MS <= ms < LATEST_MS:
            raise ValueError(text)
        return ms

    return checked


def _pattern_clock(pattern: str) -> Clock:
    moment = datetime(2001, 2, 3, 4, 5, 6, tzinfo=UTC)
    written = moment.strftime(pattern)
    if datetime.strptime(written, pattern).replace(tzinfo=UTC).date() != moment.date():
        raise ValueError(pattern)
    plain = _within(_remembering(_strptime(pattern)))
    for tail in _TAILS:
        if pattern.endswith(tail) and "%z" not in pattern:
            return Clock(_read_by_day(pattern.removesuffix(tail), tail[8:9], plain), is_utc=False)
    return Clock(plain, is_utc="%z" in pattern)


def _strptime(pattern: str) -> Callable[[str], int]:
    def read(text: str) -> int:
        found = datetime.strptime(text, pattern)  # noqa: DTZ007 - a local clock, or %z says otherwise
        return _ms_of(found.astimezone(UTC) if found.tzinfo else found.replace(tzinfo=UTC))

    return read


def _read_by_day(head: str, point: str, plain: Callable[[str], int]) -> Callable[[str], int]:
    """Read each date, and each time of day, once: there are few of the one and 86,400 of the other.

    What does not fit the fixed width of ``HH:MM:SS`` is left to ``plain``.
    """
    read_head = _within(_remembering(_strptime(head)))
    days: dict[str, int] = {}
    seconds: dict[str, int] = {}

    def read(text: str) -> int:
        if point:
            whole, _, fraction = text.rpartition(point)
        else:
            whole, fraction = text, "0"
        day, clock = whole[:-8], whole[-8:]
        try:
            ms = days[day] + seconds[clock]
        except KeyError:
            if (of_day := _clock_ms(clock)) is None:
                return plain(text)
            if len(days) >= _KEPT:
                days.clear()
            days[day], seconds[clock] = read_head(day), of_day
            ms = days[day] + of_day
        if not fraction.isdecimal() or len(fraction) > 6:
            raise ValueError(text)
        return ms + int(fraction[:3].ljust(3, "0"))

    return read


def _clock_ms(text: str) -> int | None:
    """Milliseconds since midnight of ``HH:MM:SS``; None for any other text."""
    digits = text[:2] + text[3:5] + text[6:]
    if len(text) != 8 or text[2::3] != "::" or not (digits.isascii() and digits.isdecimal()):
        return None
    hour, minute, second = int(digits[:2]), int(digits[2:4]), int(digits[4:])
    if hour > 23 or minute > 59 or second > 59:
        return None
    return ((hour * 60 + minute) * 60 + second) * 1000


def _remembering(read: Callable[[str], int]) -> Callable[[str], int]:
    kept: dict[str, int] = {}

    def remembered(text: str) -> int:
        found = kept.get(text)
        if found is None:
            found = read(text)
            if len(kept) >= _KEPT:
                kept.clear()
            kept[text] = found
        return found

    return remembered


def _ms_of(moment: datetime) -> int:
    since = moment - _EPOCH
    return since.days * _DAY_MS + since.seconds * 1000 + since.microseconds // 1000


def _read_iso(text: str) -> int:
    moment = datetime.fromisoformat(text)
    if moment.tzinfo is not None:
        raise ValueError(text)
    since = moment - _NAIVE_EPOCH
    return since.days * _DAY_MS + since.seconds * 1000 + since.microseconds // 1000


def _read_iso_offset(text: str) -> int:
    moment = datetime.fromisoformat(text)
    if moment.tzinfo is None:
        raise ValueError(text)
    return _ms_of(moment)


def _read_seconds(text: str) -> int:
    whole, point, fraction = text.partition(".")
    if not whole.isdecimal() or len(whole) > 15 or (point and not fraction.isdecimal()):
        raise ValueError(text)
    return int(whole) * 1000 + (int(fraction[:3].ljust(3, "0")) if fraction else 0)


def _read_milliseconds(text: str) -> int:
    if not text.isdecimal() or len(text) > 18:
        raise ValueError(text)
    return int(text)


@dataclass(frozen=True, slots=True)
class Resolved:
    """Instants of local times in the order given, and how many times were skipped or repeated by the clock."""

    times: Times
    skipped: int
    repeated: int


def resolve(zone: ZoneInfo, local: Times, not_before: Times | None = None) -> Resolved:
    """Turn milliseconds on the local clock into instants.

    A time in a skipped hour becomes the first instant after the gap. Of the two instants of a time in a repeated
    hour, the earlier is taken unless that would step back behind ``not_before`` or, where that is None, behind the
    row before: rows of a log come in order.
    """
    if not len(local):
        return Resolved(local, 0, 0)
    pieces = transitions(zone, (int(local.min()) - 2 * _DAY_MS, int(local.max()) + 2 * _DAY_MS))
    starts = np.array([piece[0] for piece in pieces], np.int64)
    offsets = np.array([piece[1] for piece in pieces], np.int64)
    piece_of = np.searchsorted(starts + offsets, local, "right") - 1
    times = local - offsets[piece_of]
    ends = np.append(starts[1:], np.iinfo(np.int64).max)[piece_of]
    skipped = times >= ends
    times[skipped] = ends[skipped]
    earlier = local - offsets[np.maximum(piece_of - 1, 0)]
    repeated = (piece_of > 0) & (earlier < starts[piece_of]) & ~skipped
    _choose(times, earlier, np.flatnonzero(repeated), not_before)
    return Resolved(times, int(skipped.sum()), int(repeated.sum()))


def _choose(times: Times, earlier: Times, where: NDArray[np.intp], not_before: Times | None) -> None:
    for row in where.tolist():
        before = not_before[row] if not_before is not None else times[max(row - 1, 0)]
        is_first = not_before is None and row == 0
        if is_first or earlier[row] >= before or times[row] < before:
            times[row] = earlier[row]


def local_of(ms: int) -> datetime:
    """The naive date and time that a local clock shows at ``ms`` of its own count."""
    return _NAIVE_EPOCH + timedelta(milliseconds=ms)
