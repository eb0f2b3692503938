"""A rule as a tree of frozen nodes.

What each node means in time is the engine's; here is only what was said. ``at`` is the stretch of the rule's text
that a node came from, for carets; it takes no part in comparison, so that equal formulas are one formula.
"""

from dataclasses import dataclass, field
from typing import TypeAlias

from stillwell.civiltime import TimeOfDay

Stretch: TypeAlias = tuple[int, int]


@dataclass(frozen=True, slots=True)
class _Node:
    at: Stretch = field(default=(0, 0), compare=False, kw_only=True)


@dataclass(frozen=True, slots=True)
class Signal(_Node):
    """A named signal: ``hall_pir.movement``, ``sign_of_life``."""

    name: str


@dataclass(frozen=True, slots=True)
class StateIs(_Node):
    """``guarding is part_set``."""

    state: str
    value: str


@dataclass(frozen=True, slots=True)
class Compare(_Node):
    """``bedroom_temp.temperature < 16C``; ``op`` is one of < <= > >=."""

    name: str
    op: str
    number: float
    unit: str


@dataclass(frozen=True, slots=True)
class Between(_Node):
    """``between 22:00 and 07:00``: from the start edge on, until just before the end edge."""

    start: TimeOfDay
    end: TimeOfDay


@dataclass(frozen=True, slots=True)
class OnDays(_Node):
    """``on sat, sun``: local calendar days, Monday is 0."""

    days: frozenset[int]


@dataclass(frozen=True, slots=True)
class At(_Node):
    """``at 08:00``: a pulse once each local day."""

    time: TimeOfDay


@dataclass(frozen=True, slots=True)
class Not(_Node):
    """``not back_door.open``."""

    body: "Formula"


@dataclass(frozen=True, slots=True)
class And(_Node):
    """All of them; with one pulse among levels, that pulse where the levels hold."""

    parts: tuple["Formula", ...]


@dataclass(frozen=True, slots=True)
class Or(_Node):
    """Any of them: levels, or pulses."""

    parts: tuple["Formula", ...]


@dataclass(frozen=True, slots=True)
class HeldFor(_Node):
    """``back_door.open for 10min``."""

    body: "Formula"
    duration_ms: int


@dataclass(frozen=True, slots=True)
class NoneFor(_Node):
    """``no sign_of_life for 3h``: no pulse in (t - d, t]."""

    body: "Formula"
    duration_ms: int


@dataclass(frozen=True, slots=True)
class NoneForLimit(_Node):
    """``no sign_of_life for limit quiet``: no pulse for as long as a table of limits allows after the last one."""

    body: "Formula"
    limit: str


@dataclass(frozen=True, slots=True)
class CountWithin(_Node):
    """``3 hall_pir.movement within 10min``: at least so many pulses in (t - d, t]."""

    count: int
    body: "Formula"
    duration_ms: int


@dataclass(frozen=True, slots=True)
class Then(_Node):
    """``a then b within d``: a pulse at each b with an a in [t - d, t)."""

    first: "Formula"
    second: "Formula"
    duration_ms: int


@dataclass(frozen=True, slots=True)
class Without(_Node):
    """``a without b within d``: a pulse at a + d when no b came in (a, a + d]."""

    first: "Formula"
    second: "Formula"
    duration_ms: int


@dataclass(frozen=True, slots=True)
class StartOf(_Node):
    """``start of back_door.open``: a pulse when the level becomes true and was last known false."""

    body: "Formula"


@dataclass(frozen=True, slots=True)
class EndOf(_Node):
    """``end of back_door.open``: a pulse when the level becomes false and was last known true."""

    body: "Formula"


Formula: TypeAlias = (
    Signal
    | StateIs
    | Compare
    | Between
    | OnDays
    | At
    | Not
    | And
    | Or
    | HeldFor
    | NoneFor
    | NoneForLimit
    | CountWithin
    | Then
    | Without
    | StartOf
    | EndOf
)


@dataclass(frozen=True, slots=True)
class Switch(_Node):
    """``lounge_lamp on for 2h``, ``well_pump off``: command a part; ``for_ms`` None means until further command."""

    part: str
    on: bool
    for_ms: int | None = None


@dataclass(frozen=True, slots=True)
class SetState(_Node):
    """``set guarding to part_set``."""

    state: str
    value: str


Action: TypeAlias = Switch | SetState
