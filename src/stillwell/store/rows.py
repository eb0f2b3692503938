"""What a store holds, row by row. Times are milliseconds UTC."""

from dataclasses import dataclass
from typing import TypeAlias


@dataclass(frozen=True, slots=True)
class EventRow:
    """A report: when it came, of which signal, its value (None: unknown).

    ``seq`` counts from 1 and may leave numbers out. ``at_ms`` is the instant at which the rules take it;
    ``stamped_ms`` what the part said itself. ``source`` and ``source_seq`` name the report where the part counts
    its reports. ``late``: kept, but not handed to the rules.
    """

    seq: int
    at_ms: int
    signal: str
    value: float | None
    stamped_ms: int | None = None
    source: str | None = None
    source_seq: int | None = None
    late: bool = False


@dataclass(frozen=True, slots=True)
class StateRow:
    """The state of the home after event ``taken_seq`` and the instant ``decided_ms``, as JSON; under which plan."""

    taken_seq: int
    decided_ms: int
    plan: str
    snapshot: str


@dataclass(frozen=True, slots=True)
class PlanRow:
    """A plan as it was taken into use."""

    fingerprint: str
    text: str
    at_ms: int
    by_whom: str


@dataclass(frozen=True, slots=True)
class FactRow:
    """Something that happened to an alarm, a rule, the watch; by whom and why where a person did it."""

    at_ms: int
    what: str
    subject: str
    by_whom: str = ""
    why: str = ""


@dataclass(frozen=True, slots=True)
class MessageRow:
    """A message to a person. It is open until ``ended_ms``: sent, or given up for the reason ``why``."""

    key: str
    alarm: str
    person: str
    channel: str
    at_ms: int
    asked_at_ms: int
    raised_at_ms: int
    drill: bool = False
    attempts: int = 0
    next_try_ms: int = 0
    sent_ms: int | None = None
    ended_ms: int | None = None
    why: str = ""


@dataclass(frozen=True, slots=True)
class CommandRow:
    """A command to a part. It is open until ``ended_ms``: confirmed, sent where nothing confirms, or given up."""

    key: str
    part: str
    switch_on: bool
    at_ms: int
    attempts: int = 0
    next_try_ms: int = 0
    sent_ms: int | None = None
    confirmed_ms: int | None = None
    ended_ms: int | None = None
    why: str = ""


@dataclass(frozen=True, slots=True)
class AnswerRow:
    """An answer that came by a link; its token counts once."""

    token: str
    alarm: str
    by_whom: str
    word: str
    at_ms: int


@dataclass(frozen=True, slots=True)
class UnreadRow:
    """Input that could not be used: why, from where, how often, first and last."""

    reason: str
    source: str
    times: int
    first_ms: int
    last_ms: int


@dataclass(frozen=True, slots=True)
class CounterRow:
    """A number that goes on over a restart."""

    name: str
    number: int


@dataclass(frozen=True, slots=True)
class MessageMark:
    """How the sending of a message stands now."""

    row: MessageRow


@dataclass(frozen=True, slots=True)
class CommandMark:
    """How a command stands now."""

    row: CommandRow


Entry: TypeAlias = (
    EventRow
    | StateRow
    | PlanRow
    | FactRow
    | MessageRow
    | MessageMark
    | CommandRow
    | CommandMark
    | AnswerRow
    | UnreadRow
    | CounterRow
)
"""What can be written."""
