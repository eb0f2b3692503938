"""From what a clock on the wall shows to instants, and back."""

from datetime import date, datetime, timedelta
from typing import Literal
from zoneinfo import ZoneInfo

from stillwell.civiltime.pieces import DAY_MS, EPOCH, offset_ms, pieces_near

Edge = Literal["start", "end", "once"]
"""What a local time is wanted for: the start of a window, its end, or something that happens once."""

_MINUTE_MS = 60_000
_EPOCH_DAY = date(1970, 1, 1).toordinal()
_EPOCH_LOCAL = EPOCH.replace(tzinfo=None)


def local_instant(zone: ZoneInfo, day: date, minute: int, edge: Edge) -> int:
    """The instant, in milliseconds UTC, at which a wall clock shows `minute` of the local day `day`.

    `minute` counts from local midnight, 0 to 1439. A time that is skipped that day (the clocks go forward
    over it) is the first instant after the gap. A time that happens twice (the clocks go back over it) is
    the first of the two for "start" and "once", the second for "end", so that a window never shrinks.
    """
    return instant_of_day(zone, day_number(day), minute, edge)


def instants_of_local(zone: ZoneInfo, local: datetime) -> tuple[int, ...]:
    """Every instant, in milliseconds UTC, at which local time was `local` (naive): none, one or two, in
    order.

    None means that the clocks skipped over it, two that they went back over it. What is finer than a
    millisecond is cut off. For many rows in a row use `LocalReader`.
    """
    return _instants(zone, _local_ms(local))


class LocalReader:
    """Reads many local times of one zone that lie near each other, as the rows of a log do.

    It remembers the stretch of local time around the last row in which each time happens exactly once, and
    looks closer only outside of it. The answers are those of `instants_of_local`.
    """

    __slots__ = ("_clear_from", "_clear_until", "_offset_ms", "_zone")

    def __init__(self, zone: ZoneInfo) -> None:
        self._zone = zone
        self._clear_from = self._clear_until = _EPOCH_LOCAL
        self._offset_ms = 0

    def instants(self, local: datetime) -> tuple[int, ...]:
        """As `instants_of_local`."""
        if self._clear_from <= local < self._clear_until or self._move_to(local):
            since = local - _EPOCH_LOCAL
            local_ms = since.days * DAY_MS + since.seconds * 1000 + since.microseconds // 1000
            return (local_ms - self._offset_ms,)
        return _instants(self._zone, _local_ms(local))

    def _move_to(self, local: datetime) -> bool:
        """Take up the clear stretch about `local`; False where `local` is in none (skipped or repeated)."""
        local_ms = _local_ms(local)
        pieces = pieces_near(self._zone, local_ms)
        for index, piece in enumerate(pieces):
            before = pieces[max(index - 1, 0)]
            after = pieces[min(index + 1, len(pieces) - 1)]
            clear_from = piece.from_ms + max(piece.offset_ms, before.offset_ms)
            clear_until = piece.until_ms + min(piece.offset_ms, after.offset_ms)
            if clear_from <= local_ms < clear_until:
                try:
                    self._clear_from = _EPOCH_LOCAL + timedelta(milliseconds=clear_from)
                    self._clear_until = _EPOCH_LOCAL + timedelta(milliseconds=clear_until)
                except OverflowError:  # at the very ends of the calendar
                    return False
                self._offset_ms = piece.offset_ms
                return True
        return False


def local_datetime(zone: ZoneInfo, at_ms: int) -> datetime:
    """Local date and time of an instant, aware of its zone and of which of two repeated hours it is in."""
    return (EPOCH + timedelta(milliseconds=at_ms)).astimezone(zone)


def local_text(zone: ZoneInfo, at_ms: int) -> str:
    """Local date and time of an instant as "2026-03-29 03:00:00", with ".250" only where it is not zero."""
    local = local_datetime(zone, at_ms)
    return local.replace(tzinfo=None).isoformat(" ", "milliseconds" if at_ms % 1000 else "seconds")


def day_number(day: date) -> int:
    """A date as days since 1970-01-01."""
    return day.toordinal() - _EPOCH_DAY


def date_of(day: int) -> date:
    """The date that lies `day` days after 1970-01-01."""
    return date.fromordinal(day + _EPOCH_DAY)


def local_day(zone: ZoneInfo, at_ms: int) -> int:
    """The local date of an instant, as days since 1970-01-01."""
    return (at_ms + offset_ms(zone, at_ms)) // DAY_MS


def instant_of_day(zone: ZoneInfo, day: int, minute: int, edge: Edge) -> int:
    """As `local_instant`, for a day given as days since 1970-01-01."""
    local_ms = day * DAY_MS + minute * _MINUTE_MS
    instants = _instants(zone, local_ms)
    if not instants:
        return _end_of_gap(zone, local_ms)
    return instants[-1] if edge == "end" else instants[0]


def is_skipped(zone: ZoneInfo, day: int, minute: int) -> bool:
    """Whether no wall clock ever shows `minute` of the day."""
    return not _instants(zone, day * DAY_MS + minute * _MINUTE_MS)


def _instants(zone: ZoneInfo, local_ms: int) -> tuple[int, ...]:
    found = []
    for from_ms, until_ms, offset in pieces_near(zone, local_ms):
        if from_ms <= local_ms - offset < until_ms:
            found.append(local_ms - offset)
    return tuple(found)


def _end_of_gap(zone: ZoneInfo, local_ms: int) -> int:
    return min(piece.from_ms for piece in pieces_near(zone, local_ms) if piece.from_ms + piece.offset_ms > local_ms)


def _local_ms(local: datetime) -> int:
    return (local - _EPOCH_LOCAL) // timedelta(milliseconds=1)
