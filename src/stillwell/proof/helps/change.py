"""A change of a plan's text, and a dial: changes of one kind from the smallest to the largest."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TypeAlias

from stillwell.plan.edit import Value, append_entry, set_value
from stillwell.plan.fault import Path

MINUTE_MS = 60_000
HOUR_MS = 60 * MINUTE_MS

STEPS_MS = ((2 * HOUR_MS, 30 * MINUTE_MS), (20 * MINUTE_MS, 5 * MINUTE_MS), (2 * MINUTE_MS, MINUTE_MS), (0, 10_000))
"""Durations longer than the first of a pair change in steps of the second, so that they stay plain numbers."""


@dataclass(frozen=True)
class Edit:
    """One value of ``home.toml`` set anew by ``plan.edit.set_value``; a mapping for a table that is not there yet."""

    path: Path
    value: Value


@dataclass(frozen=True)
class Change:
    """One change, in plain words, and the edits it takes; ``caution`` is what to look at before making it."""

    told: str
    edits: tuple[Edit, ...]
    caution: str = ""


Setting: TypeAlias = tuple[int, ...]
"""How far each side of a dial is turned, from 0: as it is."""


@dataclass(frozen=True)
class Dial:
    """Changes of one kind. Turned further, each of its ``sides`` (how far it can be turned) tells sooner or as soon.

    ``change`` is asked for settings that turn at least one side.
    """

    told: str
    sides: Setting
    change: Callable[[Setting], Change]


def single(change: Change) -> Dial:
    """Return the dial of a change that can only be made or not."""
    return Dial(change.told, (1,), lambda _: change)


def changed(text: str, change: Change) -> str:
    """Return the plan's text with the change made, every other character left as it is."""
    for edit in change.edits:
        if isinstance(edit.value, Mapping):
            text = append_entry(text, edit.path, edit.value)
        else:
            text = set_value(text, edit.path, edit.value)
    return text


def shorter(duration_ms: int) -> tuple[int, ...]:
    """Return plain durations below one, from the next shorter to the shortest."""
    step = next(step for above, step in STEPS_MS if duration_ms > above)
    return tuple(range((duration_ms - 1) // step * step, 0, -step))
