"""What the pages of one home are made from."""

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Protocol, TypeVar

from stillwell.control.asks import Ask
from stillwell.plan.model import Plan
from stillwell.store.accounts import Accounts
from stillwell.store.look import Look

T = TypeVar("T")


class Watching(Protocol):
    """The way to the running watch: stillwell.control.client.Control."""

    async def asked(self, ask: Ask[T]) -> T:
        """Ask the watch. Raises Refusal, and NoWatch where none runs."""


def wall_ms() -> int:
    """Return what the clock of the system shows, milliseconds UTC."""
    return time.time_ns() // 1_000_000


@dataclass
class Site:
    """One home: its plan as it is now, and whatever else there is of it.

    ``look`` reads the store, ``watching`` asks the running watch; either is None where there is none. ``record`` is a
    record to show, by its file. ``plan`` is put in anew when the watch takes another into use; ``version`` counts that.
    """

    plan: Plan
    text: str
    plan_file: Path
    accounts: Accounts
    look: Look | None = None
    watching: Watching | None = None
    record: Path | None = None
    now_ms: Callable[[], int] = wall_ms
    version: int = field(default=0, init=False)
    open_to: Mapping[str, frozenset[str]] = field(default_factory=dict, init=False)
    """The roles that each page opens to, by its path."""

    def take_plan(self, plan: Plan, text: str) -> None:
        """Go on with another plan."""
        self.plan, self.text = plan, text
        self.version += 1

    def close(self) -> None:
        """Let go of what is open."""
        self.accounts.close()
        if self.look is not None:
            self.look.close()
