"""The keeper's clock: it never runs backwards, and counts the time that the machine slept.

When the system's clock is set back it goes on, a little slower, until the other has caught up: no silence lasts
more than a twentieth longer for that.
"""

import time
from typing import Final

SLOWER: Final = 0.95


class Clock:
    """Milliseconds UTC. ``not_before_ms``: where the stored state left off."""

    def __init__(self, not_before_ms: int = 0) -> None:
        self._passed_ns = _passed_ns()
        self._now_ms = float(max(wall_ms(), not_before_ms))

    def now_ms(self) -> int:
        """Return the time; never less than before."""
        passed_ns = _passed_ns()
        self._now_ms = after(self._now_ms, (passed_ns - self._passed_ns) / 1e6, wall_ms())
        self._passed_ns = passed_ns
        return int(self._now_ms)

    def ahead_ms(self) -> int:
        """Return how far this clock is ahead of the system's."""
        return max(0, self.now_ms() - wall_ms())


def after(now_ms: float, elapsed_ms: float, shown_ms: float) -> float:
    """Return the time ``elapsed_ms`` of real time after ``now_ms``, when the system's clock shows ``shown_ms``."""
    return max(shown_ms, now_ms + SLOWER * elapsed_ms)


def wall_ms() -> int:
    """Return what the clock of the system shows, milliseconds UTC."""
    return time.time_ns() // 1_000_000


def _passed_ns() -> int:
    return time.clock_gettime_ns(time.CLOCK_BOOTTIME) if hasattr(time, "CLOCK_BOOTTIME") else time.monotonic_ns()
