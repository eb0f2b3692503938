"""What a signal carries, in which unit, and which names a rule may use."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum


class Kind(StrEnum):
    """A pulse is a point in time, a level true, false or unknown, a number a measured value or unknown."""

    PULSE = "pulse"
    LEVEL = "level"
    NUMBER = "number"


@dataclass(frozen=True, slots=True)
class SignalType:
    """What a signal carries; ``unit`` only with numbers."""

    kind: Kind
    unit: str = ""


PULSE = SignalType(Kind.PULSE)
LEVEL = SignalType(Kind.LEVEL)


@dataclass(frozen=True, slots=True)
class Names:
    """What a rule may speak of.

    Signals with their types, states with their values, parts that take commands, tables of limits with their signal.
    """

    signals: Mapping[str, SignalType] = field(default_factory=dict)
    states: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    switches: frozenset[str] = frozenset()
    limits: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Mistake:
    """What is wrong with a rule's text: ``at`` is the stretch (from 0, end excluded), ``hint`` what would be right."""

    what: str
    at: tuple[int, int]
    hint: str = ""


class RuleMistake(Exception):  # noqa: N818 - the rule's fault, not the program's
    """The text is no rule."""

    def __init__(self, mistake: Mistake) -> None:
        self.mistake = mistake
        super().__init__(mistake.what)
