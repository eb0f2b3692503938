"""What every step form offers to the evaluator that drives it, and how it asks to be woken."""

from collections.abc import Sequence
from heapq import heapify, heappush
from typing import Any, Protocol

NEVER = -(2**62)


class Cell(Protocol):
    """The step form of one operator. ``value`` is the level or number now; ``fired`` the instant of its last pulse."""

    value: Any
    fired: int

    def start(self, now: int) -> None:
        """Begin with no history at ``now``."""

    def update(self, now: int) -> bool:
        """Look at what is below; return whether those above have to look too."""

    def dump(self) -> list[Any]:
        """Return the memory as plain values."""

    def load(self, memory: Sequence[Any]) -> None:
        """Take the memory back and ask to be woken anew."""


class Timers:
    """Who wants to be woken when: a heap of (time, cell number)."""

    __slots__ = ("due",)

    def __init__(self) -> None:
        self.due: list[tuple[int, int]] = []

    def wake(self, at_ms: int, cell: int) -> None:
        """Ask that the cell be updated at ``at_ms``."""
        heappush(self.due, (at_ms, cell))

    def forget_until(self, now: int) -> None:
        """Drop what fell due at or before ``now``: it has been looked at already."""
        self.due[:] = [one for one in self.due if one[0] > now]
        heapify(self.due)
