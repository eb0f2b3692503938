"""Pieces of constant distance from UTC: what everything else here is built on."""

from bisect import bisect_right
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from typing import NamedTuple
from zoneinfo import ZoneInfo

Span = tuple[int, int]
"""Half-open span of time (from, until) in milliseconds UTC."""

HOUR_MS = 3_600_000
DAY_MS = 86_400_000

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)

# Offsets are worked out once for each zone and block of time. A block's pieces reach over both of its ends
# by more than any offset (Python keeps those below 24 h), so that it answers for the local times in it too.
_BLOCK_MS = 400 * DAY_MS
_MARGIN_MS = 2 * DAY_MS
# In no zone do two changes of offset stand closer than 3.9 days (Freetown, September 1939; counted over the
# tzdata of 2025b and 2026f), so a daily look misses none.
_PROBE_MS = DAY_MS
_EARLIEST_MS = -62_135_596_800_000 + _MARGIN_MS  # the calendar of datetime starts in the year 1
_LATEST_MS = 253_402_300_799_000 - _MARGIN_MS  # and ends with the year 9999


class Piece(NamedTuple):
    """A stretch of time [from_ms, until_ms) throughout which local time is UTC + offset_ms."""

    from_ms: int
    until_ms: int
    offset_ms: int


def offset_ms(zone: ZoneInfo, at_ms: int) -> int:
    """How far local time is ahead of UTC at an instant, in milliseconds."""
    pieces = pieces_near(zone, at_ms)
    return pieces[bisect_right(pieces, at_ms, key=_from_ms) - 1].offset_ms


def transitions(zone: ZoneInfo, span: Span) -> list[tuple[int, int]]:
    """The pieces of constant offset that cover a span, as (from_ms, offset_ms) in order of time.

    The first starts exactly at span[0]; each later one starts at the first instant of a new offset, exact
    to the millisecond. For arrays of instants: the offset of each is that of the last piece at or before
    it. An empty span gives the one piece at its start.
    """
    found: list[tuple[int, int]] = []
    for block in range(span[0] // _BLOCK_MS, max(span[0], span[1] - 1) // _BLOCK_MS + 1):
        for piece in _block(zone, block):
            from_ms = max(piece.from_ms, block * _BLOCK_MS, span[0])
            until_ms = min(piece.until_ms, (block + 1) * _BLOCK_MS, max(span[1], span[0] + 1))
            if from_ms < until_ms and (not found or found[-1][1] != piece.offset_ms):
                found.append((from_ms, piece.offset_ms))
    return found


def pieces_near(zone: ZoneInfo, ms: int) -> tuple[Piece, ...]:
    """The pieces about `ms`, read as UTC or as local time: they reach over a day either way."""
    return _block(zone, ms // _BLOCK_MS)


def _from_ms(piece: Piece) -> int:
    return piece.from_ms


@lru_cache(maxsize=4096)
def _block(zone: ZoneInfo, block: int) -> tuple[Piece, ...]:
    begin = block * _BLOCK_MS - _MARGIN_MS
    end = (block + 1) * _BLOCK_MS + _MARGIN_MS
    pieces: list[Piece] = []
    from_ms, offset, known = begin, _probe(zone, begin), begin
    while known < end:
        probe = min(known + _PROBE_MS, end)
        if _probe(zone, probe) == offset:
            known = probe
            continue
        known = _first_change(zone, known, probe)
        pieces.append(Piece(from_ms, known, offset))
        from_ms, offset = known, _probe(zone, known)
    pieces.append(Piece(from_ms, end, offset))
    return tuple(pieces)


def _first_change(zone: ZoneInfo, before: int, after: int) -> int:
    """The first instant in (before, after] with another offset than `before` has."""
    offset = _probe(zone, before)
    while after - before > 1:
        middle = (before + after) // 2
        if _probe(zone, middle) == offset:
            before = middle
        else:
            after = middle
    return after


def _probe(zone: ZoneInfo, at_ms: int) -> int:
    within = min(max(at_ms, _EARLIEST_MS), _LATEST_MS)
    offset = (EPOCH + timedelta(milliseconds=within)).astimezone(zone).utcoffset()
    assert offset is not None  # a ZoneInfo always knows its offset
    return offset // timedelta(milliseconds=1)
