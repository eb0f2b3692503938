"""What may happen in one instant, as far as it can matter to a question.

A question asks whether some nodes of the rules' graph can ever stand in a certain way. What feeds them from outside
is cut off as early as possible: ``a.wet or b.wet`` that nothing else reads may be anything at any time, and is one
input, not two.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, islice, pairwise, product
from math import prod
from typing import Final, Literal, TypeAlias

from stillwell.engine.operators import calendar, compare, edge, follow, logic, lost, reported, settings
from stillwell.engine.program import Program
from stillwell.record.columns import FALSE, TRUE, UNKNOWN

Value: TypeAlias = int | float | None
"""What an input does in an instant; None: nothing."""

MOST_CHOICES: Final = 4000
"""So many different things may happen in one instant; beyond that a question is left undecided."""

MANY_CHOICES: Final = 200

UNHEARD: Final = float("nan")


@dataclass(frozen=True)
class Hands:
    """What people may do past the rules: parts that may be switched by hand, states that may be set directly.

    Any other part that takes commands does what it was last told, and says so when it reports.
    """

    parts: frozenset[str] = frozenset()
    states: frozenset[str] = frozenset()


Sort: TypeAlias = Literal["pulse", "level", "number", "loss", "report", "set", "extra"]


@dataclass(frozen=True)
class Input:
    """One thing that comes from outside.

    ``pulse``, ``level`` and ``number``: a node that may do anything. ``loss``: whether a part is lost. ``report``: a
    part that takes commands says how it stands. ``set``: a state is set directly. ``extra``: an overdue pulse of
    ``a without b`` whose exact instant is not kept. ``part`` names the part where its loss matters to others too.
    """

    sort: Sort
    node: int
    options: tuple[Value, ...]
    part: str = ""


@dataclass(frozen=True)
class Cut:
    """The part of a program that a question depends on.

    ``nodes`` are worked out instant by instant, in order; ``inputs`` feed them from outside, ``clock`` nodes are
    decided by the time of day alone.
    """

    targets: tuple[int, ...]
    nodes: tuple[int, ...]
    inputs: tuple[Input, ...]
    clock: tuple[int, ...]


def is_timeless(program: Program, node: int) -> bool:
    """Tell whether the time of day alone decides a node, whatever was before."""
    return all(isinstance(program.nodes[below].operator, (*_CALENDAR, *_LOGIC)) for below in program.cone([node]))


Forgotten: TypeAlias = Literal["", "hours", "past"]
"""What a cut leaves out: how the hours follow each other, so that what the clock decides may be so at any time; or
everything that went before, so that whatever has a memory may stand in any way."""


def cut(program: Program, targets: Sequence[int], hands: Hands, forgotten: Forgotten = "") -> Cut:
    """Return what a question about the targets depends on."""
    return _Cutter(program, tuple(targets), hands).cut(forgotten)


class _Cutter:
    def __init__(self, program: Program, targets: tuple[int, ...], hands: Hands) -> None:
        self.program = program
        self.targets = targets
        self.hands = hands
        self.cone = program.cone(targets)
        self.readers: dict[int, set[int]] = {node: set() for node in self.cone}
        for node in self.cone:
            for child in program.nodes[node].children:
                self.readers[child].add(node)
        self.losses = {
            node
            for node in self.cone
            if isinstance(program.nodes[node].operator, lost.Lost)
            and (node in targets or not all(self._reports(reader) for reader in self.readers[node]))
        }
        self.lost_parts = {_part_lost(program, node) for node in self.losses}
        self.timeless: set[int] = set()
        self.free: dict[int, Literal["pulse", "level"]] = {}
        for node in self.cone:
            self._look(node)

    def _reports(self, node: int) -> bool:
        return isinstance(self.program.nodes[node].operator, reported.LevelReport | reported.NumberReport)

    def _look(self, node: int) -> None:
        """Settle whether the clock alone decides a node, and whether it may do anything at any time."""
        operator, children = self.program.nodes[node].operator, self.program.nodes[node].children
        free = [self.free.get(child) for child in children if self._alone(child, node)]
        whole = len(free) == len(children)
        match operator:
            case reported.PulseReport():
                self.free[node] = "pulse"
            case reported.LevelReport():
                self.free[node] = "level"
            case compare.Compare() if whole:
                self.free[node] = "level"
            case logic.AnyPulse() if "pulse" in free and all(self._can_be_silent(child, node) for child in children):
                self.free[node] = "pulse"
            case logic.PulseWhile() if whole and all(free):
                self.free[node] = "pulse"
            case logic.Negation() | logic.AllOf() | logic.AnyOf() if whole and all(free):
                self.free[node] = "level"
            case _:
                pass
        if isinstance(operator, _CALENDAR) or (isinstance(operator, _LOGIC) and self.timeless.issuperset(children)):
            self.timeless.add(node)

    def _alone(self, node: int, reader: int) -> bool:
        """Tell whether nothing but its reader has to do with a node."""
        signal = getattr(self.program.nodes[node].operator, "signal", "")
        linked = signal.partition(".")[0] in self.lost_parts
        return self.readers[node] == {reader} and node not in self.targets and not linked

    def _can_be_silent(self, node: int, reader: int) -> bool:
        """Tell whether a pulse stays away as long as parts report nothing, and touches nothing else."""
        operator = self.program.nodes[node].operator
        if not self._alone(node, reader) or not isinstance(operator, _QUIET):
            return False
        below = self.program.nodes[node].children
        if self._reports(node):
            return True
        return all(self._can_be_silent(child, node) for child in below)

    def cut(self, forgotten: Forgotten) -> Cut:
        nodes, inputs, clock = set[int](), dict[int, Input](), set[int]()
        waiting, seen = list(self.targets), set(self.targets)
        while waiting:
            node = waiting.pop()
            if node in self.timeless and not forgotten:
                clock.add(node)
                continue
            found = self._input(node) or self._anyhow(node, forgotten)
            if found is not None:
                inputs[node] = found
                continue
            nodes.add(node)
            for child in self._needed(node):
                if child not in seen:
                    seen.add(child)
                    waiting.append(child)
        more = [one for node in sorted(nodes) for one in self._by_the_way(node)]
        ordered = tuple(inputs[node] for node in sorted(inputs))
        return Cut(self.targets, tuple(sorted(nodes)), (*ordered, *more), tuple(sorted(clock)))

    def _needed(self, node: int) -> Sequence[int]:
        """Return the children that matter: of joined pulses, one that may come at any time says it all."""
        children = self.program.nodes[node].children
        if not isinstance(self.program.nodes[node].operator, logic.AnyPulse):
            return children
        silent = [child for child in children if self._can_be_silent(child, node)]
        free = [child for child in silent if self.free.get(child) == "pulse"]
        return [child for child in children if child not in silent or child in free[:1]] if free else children

    def _input(self, node: int) -> Input | None:
        operator = self.program.nodes[node].operator
        part = getattr(operator, "signal", "").partition(".")[0]
        part = part if part in self.lost_parts else ""
        match operator:
            case lost.Lost():
                return Input("loss", node, (FALSE, TRUE), operator.part)
            case reported.NumberReport():
                return Input("number", node, self._numbers(node), part)
            case _ if self.free.get(node) == "pulse":
                return Input("pulse", node, (None, 1), part)
            case _ if self.free.get(node) == "level":
                return Input("level", node, (UNKNOWN, FALSE, TRUE), part)
            case _:
                return None

    def _anyhow(self, node: int, forgotten: Forgotten) -> Input | None:
        """Return a node as an input that may stand in any way, where what it depends on is forgotten."""
        operator = self.program.nodes[node].operator
        remembers = forgotten == "past" and node not in self.targets and not isinstance(operator, _PASSING)
        if node not in self.timeless and not remembers:
            return None
        if self.program.is_pulse(node):
            return Input("pulse", node, (None, 1))
        if isinstance(operator, settings.State):
            return Input("level", node, tuple(range(len(operator.values))))
        return Input("level", node, (FALSE, TRUE) if node in self.timeless else (UNKNOWN, FALSE, TRUE))

    def _numbers(self, node: int) -> tuple[float, ...]:
        """Return a number for each way in which the comparisons that read it can come out, and the unknown one."""
        operators = [self.program.nodes[reader].operator for reader in self.readers[node]]
        readers = [one for one in operators if isinstance(one, compare.Compare)]
        figures = sorted({one.figure for one in readers})
        between = [(a + b) / 2 for a, b in pairwise(figures)]
        told: dict[tuple[bool, ...], float] = {}
        for number in (figures[0] - 1, figures[-1] + 1, *between, *figures):
            told.setdefault(tuple(compare.COMPARE[one.sign](number, one.figure) for one in readers), number)
        return (UNHEARD, *told.values())

    def _by_the_way(self, node: int) -> Iterator[Input]:
        operator = self.program.nodes[node].operator
        match operator:
            case settings.Switched(part, orders):
                by_hand = part in self.hands.parts or not orders
                yield Input("report", node, (None, FALSE, TRUE) if by_hand else (None, 1), part)
            case settings.State(name, values):
                if name in self.hands.states:
                    yield Input("set", node, (None, *range(len(values))))
            case follow.Without():
                yield Input("extra", node, (None, 1))
            case _:
                pass


_CALENDAR = (calendar.Window, calendar.Weekdays, calendar.Daily)
_LOGIC = (logic.Negation, logic.AllOf, logic.AnyOf, logic.AnyPulse, logic.PulseWhile)
_PASSING = (*_LOGIC, compare.Compare, settings.StateIs)
_QUIET = (
    *_LOGIC,
    compare.Compare,
    edge.Edge,
    reported.PulseReport,
    reported.LevelReport,
    reported.NumberReport,
)


def _part_lost(program: Program, node: int) -> str:
    operator = program.nodes[node].operator
    assert isinstance(operator, lost.Lost)
    return operator.part


Narrowed: TypeAlias = Literal["", "loss", "extra", "few"]
"""What is left out of everything that may happen: that a part is lost; overdue pulses whose instant is not kept; or all
but the few things that happen when at most two inputs do anything in one instant."""


def choices(
    inputs: Sequence[Input], *, one_at_a_time: bool = False, narrowed: Narrowed = ""
) -> list[tuple[Value, ...]] | None:
    """Return everything that may happen in one instant, the quietest first; None where it is too much.

    A part that reports is not lost, and nothing is known of what a lost part measures. ``one_at_a_time`` leaves out
    what needs two inputs to act in the same instant.
    """
    options = [one.options[:1] if one.sort == narrowed else one.options for one in inputs]
    every = _few(options) if narrowed == "few" else _single(options) if one_at_a_time else product(*options)
    found = list(islice(every, MOST_CHOICES + 1))
    if len(found) > MOST_CHOICES:
        return None
    return sorted((choice for choice in found if _consistent(inputs, choice)), key=lambda one: _loudness(inputs, one))


def are_many(inputs: Sequence[Input]) -> bool:
    """Tell whether so much may happen in one instant that it pays to try a few things first."""
    return prod(len(one.options) for one in inputs) > MANY_CHOICES


def _few(options: Sequence[tuple[Value, ...]]) -> Iterator[tuple[Value, ...]]:
    quiet = tuple(one[0] for one in options)
    others = [(number, value) for number, one in enumerate(options) for value in one[1:]]
    for count in (0, 1, 2):
        for acts in combinations(others, count):
            done = dict(acts)
            if len(done) == count:
                yield tuple(done.get(number, value) for number, value in enumerate(quiet))


def _single(options: Sequence[tuple[Value, ...]]) -> Iterator[tuple[Value, ...]]:
    """Yield choices in which at most one pulse, report or setting comes; levels and losses may stand as they like."""
    acts = [number for number, one in enumerate(options) if one[0] is None]
    for quiet in product(*((None,) if one[0] is None else one for one in options)):
        yield quiet
        for number in acts:
            for value in options[number][1:]:
                yield (*quiet[:number], value, *quiet[number + 1 :])


def _consistent(inputs: Sequence[Input], choice: tuple[Value, ...]) -> bool:
    gone = {
        one.part for one, value in zip(inputs, choice, strict=True) if one.sort == "loss" and value == TRUE and one.part
    }
    if not gone:
        return True
    for one, value in zip(inputs, choice, strict=True):
        if one.part in gone and one.sort != "loss":
            speaks = value is not None if one.sort in ("pulse", "report") else not _unknown(one, value)
            if speaks:
                return False
    return True


def _unknown(one: Input, value: Value) -> bool:
    return value == UNKNOWN if one.sort == "level" else value != value  # noqa: PLR0124 - NaN is unknown


def _loudness(inputs: Sequence[Input], choice: tuple[Value, ...]) -> int:
    return sum(value != one.options[0] for one, value in zip(inputs, choice, strict=True))
