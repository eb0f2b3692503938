"""What the published methods look at: signs of life in order, the silences after them, and whole days."""

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from stillwell.record.columns import Times

MINUTE_MS: Final = 60_000
HOUR_MS: Final = 60 * MINUTE_MS
DAY_MS: Final = 24 * HOUR_MS


@dataclass(frozen=True, eq=False)
class Lived:
    """The signs of life of one home.

    ``times`` (ms UTC, sorted), ``local`` (ms of the clock on the wall) and ``part`` (index into ``parts``) have one
    entry for each sign; ``ends`` is when the silence after it ended: at the next sign, or where the record does.
    ``judgeable`` tells whether somebody was there throughout that silence. ``days`` are (start, end) of the whole
    local days somebody was there, in order, ``day`` the index among them of each sign's day (-1: none of them).
    """

    times: Times
    local: Times
    part: NDArray[np.int64]
    parts: tuple[str, ...]
    ends: Times
    judgeable: NDArray[np.bool_]
    days: NDArray[np.int64]
    day: NDArray[np.int64]

    @property
    def lengths(self) -> Times:
        """How long the silence after each sign lasted, ms."""
        lasted: Times = self.ends - self.times
        return lasted

    def past(self, day: int) -> "Past":
        """What may be known before a day."""
        return Past(self, day)


@dataclass(frozen=True, eq=False)
class Past:
    """All that a method may look at on the morning of a day: signs and silences that were over at midnight."""

    lived: Lived
    day: int

    @property
    def midnight_ms(self) -> int:
        """When the day begins."""
        return int(self.lived.days[self.day, 0])

    @cached_property
    def over_until(self) -> int:
        """How many silences were over; they are the first ones, for each ends where the next begins."""
        return int(np.searchsorted(self.lived.ends, self.midnight_ms))

    @cached_property
    def over(self) -> NDArray[np.intp]:
        """The indices of the silences that were over and may be learned from."""
        return np.flatnonzero(self.lived.judgeable[: self.over_until])

    def today(self) -> NDArray[np.intp]:
        """The indices of the day's own signs."""
        return np.flatnonzero(self.lived.day == self.day)
