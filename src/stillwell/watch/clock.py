"""The only clock: engine time, which never runs backwards, and how long to wait for an instant.

A board without a clock of its own starts in the past, and a time server sets it later. So engine time follows the
clock of the system forwards at once, for silence may have lasted all that time; when the system's clock is set back,
engine time goes on, a little slower, until the other has caught up. Either is counted as a jump and told.
"""

import time
from dataclasses import dataclass, field
from typing import Final, Protocol

JUMP_MS: Final = 2_000
"""A difference between the system's clock and the time that really passed that is no drift."""

SLOWER: Final = 0.95
"""How fast engine time goes while it is ahead: no timer lasts more than a twentieth longer."""


class Clock(Protocol):
    """What the loop asks of a clock; ``jumps_ms`` holds the jumps since they were last taken out, signed."""

    jumps_ms: list[int]

    def now_ms(self) -> int:
        """Return engine time, milliseconds UTC; never less than before."""

    def seconds_until(self, at_ms: int) -> float | None:
        """Return how long to wait for an instant, 0 when it is over; None: until something else happens."""

    def ahead_ms(self) -> int:
        """Return how far engine time is ahead of the system's clock."""


@dataclass
class SystemClock:
    """The clock of the system. ``not_before_ms``: where a stored state left off."""

    not_before_ms: int = 0
    jumps_ms: list[int] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._passed_ns = passed_ns()
        self._wall_ms = wall_ms()
        self._now_ms = float(max(self._wall_ms, self.not_before_ms))

    def now_ms(self) -> int:
        passed, wall = passed_ns(), wall_ms()
        elapsed_ms = (passed - self._passed_ns) / 1e6
        jump = wall - self._wall_ms - elapsed_ms
        if abs(jump) > JUMP_MS:
            self.jumps_ms.append(round(jump))
        self._passed_ns, self._wall_ms = passed, wall
        self._now_ms = after(self._now_ms, elapsed_ms, wall)
        return int(self._now_ms)

    def seconds_until(self, at_ms: int) -> float | None:
        return max(0.0, (at_ms - self.now_ms()) / 1000)

    def ahead_ms(self) -> int:
        return max(0, int(self._now_ms) - self._wall_ms)


@dataclass
class FastClock:
    """A clock for trying out: it starts at ``start_ms`` and runs ``speed`` times as fast as real time."""

    start_ms: int
    speed: float
    jumps_ms: list[int] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._began_ns = passed_ns()

    def now_ms(self) -> int:
        return self.start_ms + int((passed_ns() - self._began_ns) / 1e6 * self.speed)

    def seconds_until(self, at_ms: int) -> float | None:
        return max(0.0, (at_ms - self.now_ms()) / 1000 / self.speed)

    def ahead_ms(self) -> int:
        return 0


def after(now_ms: float, elapsed_ms: float, wall_ms: float) -> float:
    """Return engine time ``elapsed_ms`` of real time after ``now_ms``, when the system's clock shows ``wall_ms``."""
    if wall_ms >= now_ms + SLOWER * elapsed_ms:
        return max(wall_ms, now_ms)
    return now_ms + SLOWER * elapsed_ms


def passed_ns() -> int:
    """Return time that has really passed since some instant, also while the machine slept; nobody can set it."""
    return time.clock_gettime_ns(time.CLOCK_BOOTTIME) if hasattr(time, "CLOCK_BOOTTIME") else time.monotonic_ns()


def wall_ms() -> int:
    """Return what the clock of the system shows, milliseconds UTC."""
    return time.time_ns() // 1_000_000
