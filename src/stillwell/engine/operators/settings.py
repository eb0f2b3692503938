"""What rules set: states of the home, and parts that take commands.

A state holds the value last set; of two rules in one instant the later in the plan wins. A switched part's ``on`` is
what was last commanded or reported. ``on for d`` goes off after d unless another command came since. In one instant
an automatic off gives way to a report, a report to a command, and everything to the loss of the part, which makes
``on`` unknown until the next report or command after the part is back.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from stillwell.engine.axis import Axis, at, merge_equal, steps_from
from stillwell.engine.operators.cell import NEVER, Cell, Timers
from stillwell.engine.operators.reported import level_of
from stillwell.record.columns import FALSE, TRUE, UNKNOWN, Pulses, Steps


@dataclass(frozen=True, slots=True)
class State:
    """``values`` of the state by number, the initial one, and what each child (a rule that fires) sets."""

    name: str
    values: tuple[str, ...]
    initial: int
    set_to: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class StateIs:
    """Whether a state has a value."""

    value: int


@dataclass(frozen=True, slots=True)
class Order:
    """One command: on or off, and for how long (None: until further command)."""

    on: bool
    for_ms: int | None


@dataclass(frozen=True, slots=True)
class Switched:
    """A part that takes commands. Children: whether it is lost, then the rules, each with its order."""

    part: str
    orders: tuple[Order, ...]


def state_column(operator: State, axis: Axis, initial: Any, given: Steps | None, rules: Sequence[Pulses]) -> Steps:
    """Return the state as numbers of its values; ``given`` is what was set from outside the rules."""
    changes: list[tuple[Any, Any]] = [] if given is None else [(given.times, given.values)]
    changes += [(rule.times, float(value)) for rule, value in zip(rules, operator.set_to, strict=True)]
    return steps_from(axis, changes, np.asarray(initial, np.float64))


def state_is_column(operator: StateIs, axis: Axis, state: Steps) -> Steps:
    """Return whether the state has the value."""
    return merge_equal(axis, state.times, np.where(state.values == operator.value, TRUE, FALSE).astype(np.int8))


def switched_column(
    operator: Switched, axis: Axis, initial: Any, reports: Steps | None, lost: Steps, rules: Sequence[Pulses]
) -> Steps:
    """Return the level ``on``."""
    empty = np.empty(0, np.int64)
    times = np.concatenate([empty, *(rule.times for rule in rules)])
    counts = [len(rule.times) for rule in rules]
    ranks = np.repeat(np.arange(len(rules)), counts)
    on = np.repeat(np.array([order.on for order in operator.orders], bool), counts)
    lasting = np.repeat(
        np.array([-1 if order.for_ms is None else order.for_ms for order in operator.orders], np.int64),
        counts,
    )
    order = np.lexsort((ranks, times))
    times, on, lasting = times[order], on[order], lasting[order]
    wins = np.append(times[1:] != times[:-1], np.True_)[: len(times)]
    times, on, lasting = times[wins], on[wins], lasting[wins]
    off_at = times + lasting
    next_order = np.append(times[1:], np.iinfo(np.int64).max)[: len(times)]
    runs_out = (lasting >= 0) & (off_at < next_order) & (off_at < axis.end_of(times))
    changes: list[tuple[Any, Any]] = [(off_at[runs_out], np.int8(FALSE))]
    if reports is not None:
        changes.append((reports.times, reports.values))
    changes.append((times, np.where(on, TRUE, FALSE).astype(np.int8)))
    gone = lost.times[lost.values == TRUE]
    if len(gone):
        changes = [_while_there(change, lost) for change in changes]
        changes.append((gone, np.int8(UNKNOWN)))
    return steps_from(axis, changes, np.asarray(initial, np.int8))


def _while_there(change: tuple[Any, Any], lost: Steps) -> tuple[Any, Any]:
    times, values = change
    there = at(lost, times) != TRUE
    return times[there], np.broadcast_to(values, times.shape)[there]


class StateCell:
    """Remembers the number of the value last set."""

    __slots__ = ("fired", "given", "heard", "initial", "rules", "set_to", "value")

    def __init__(self, operator: State, rules: Sequence[Cell]) -> None:
        self.initial = float(operator.initial)
        self.rules = tuple(rules)
        self.set_to = tuple(float(value) for value in operator.set_to)
        self.value = self.initial
        self.fired = NEVER
        self.given = self.initial
        self.heard = NEVER

    def start(self, now: int) -> None:
        self.value = self.initial

    def report(self, now: int, value: float | None) -> None:
        """Take the number of a value that was set from outside the rules."""
        if value is not None:
            self.given, self.heard = float(value), now

    def update(self, now: int) -> bool:
        before = self.value
        if self.heard == now:
            self.value = self.given
        for rule, value in zip(self.rules, self.set_to, strict=True):
            if rule.fired == now:
                self.value = value
        return self.value != before

    def dump(self) -> list[Any]:
        return [self.value]

    def load(self, memory: Sequence[Any]) -> None:
        self.value = memory[0]


class StateIsCell:
    """Keeps nothing but its value."""

    __slots__ = ("fired", "state", "value", "wanted")

    def __init__(self, operator: StateIs, state: Cell) -> None:
        self.wanted = operator.value
        self.state = state
        self.value = UNKNOWN
        self.fired = NEVER

    def start(self, now: int) -> None:
        self.value = UNKNOWN

    def update(self, now: int) -> bool:
        before = self.value
        self.value = TRUE if self.state.value == self.wanted else FALSE
        return self.value != before

    def dump(self) -> list[Any]:
        return [self.value]

    def load(self, memory: Sequence[Any]) -> None:
        self.value = memory[0]


class SwitchedCell:
    """Remembers when to switch off; ``ordered`` is the instant of the last command it gave out."""

    __slots__ = (
        "fired",
        "heard",
        "index",
        "lost",
        "off_at",
        "ordered",
        "orders",
        "reported",
        "rules",
        "timers",
        "value",
        "wanted",
    )

    def __init__(self, operator: Switched, lost: Cell, rules: Sequence[Cell], index: int, timers: Timers) -> None:
        self.lost = lost
        self.rules = tuple(rules)
        self.orders = operator.orders
        self.index = index
        self.timers = timers
        self.value = UNKNOWN
        self.fired = NEVER
        self.reported = UNKNOWN
        self.heard = NEVER
        self.off_at = NEVER
        self.ordered = NEVER
        self.wanted = False

    def start(self, now: int) -> None:
        self.value, self.off_at, self.ordered = UNKNOWN, NEVER, NEVER

    def report(self, now: int, value: float | None) -> None:
        self.reported, self.heard = level_of(value), now

    def update(self, now: int) -> bool:
        before, value = self.value, self.value
        if self.off_at == now:
            self._order(now, on=False)
            value = FALSE
        if self.heard == now:
            value = self.reported
        for rule, order in zip(self.rules, self.orders, strict=True):
            if rule.fired == now:
                value = TRUE if order.on else FALSE
                self._order(now, on=order.on)
                if order.for_ms is not None:
                    self.off_at = now + order.for_ms
                    self.timers.wake(self.off_at, self.index)
        self.value = UNKNOWN if self.lost.value == TRUE else value
        return self.value != before

    def _order(self, now: int, *, on: bool) -> None:
        self.off_at, self.ordered, self.wanted = NEVER, now, on

    def dump(self) -> list[Any]:
        return [self.value, self.off_at, self.wanted]

    def load(self, memory: Sequence[Any]) -> None:
        self.value, self.off_at, self.wanted = memory
        if self.off_at != NEVER:
            self.timers.wake(self.off_at, self.index)
