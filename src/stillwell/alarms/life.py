"""The life of one alarm, as a table: every state, every event, what follows and why.

The states and arrows are those of ANSI/ISA-18.2-2016 and IEC 62682, the alarm state transition
diagram, without *suppressed by design*: this program never hides an alarm by itself, only a person
may, and then it is shelved or out of service. One arrow is added, from shelved to out of service.
`TABLE` is the only place that says which state follows; `diagram` draws docs/alarm-life.md from it.

Where the table had a choice, doubt falls on the side of telling. Times are milliseconds UTC.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TypeAlias

from stillwell.alarms import stored
from stillwell.alarms.events import (
    Acknowledged,
    PutBack,
    Raised,
    ReAlarmed,
    Returned,
    Shelved,
    TakenOut,
    Unshelved,
)


class State(StrEnum):
    NORMAL = "normal"
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED = "returned to normal unacknowledged"
    SHELVED = "shelved"
    OUT_OF_SERVICE = "out of service"


Event: TypeAlias = Raised | Returned | Acknowledged | ReAlarmed | Shelved | Unshelved | TakenOut | PutBack

WORDS: Mapping[type[Event], str] = {
    Raised: "raised",
    Returned: "returned",
    Acknowledged: "acknowledged",
    ReAlarmed: "asked again",
    Shelved: "shelved",
    Unshelved: "unshelved or its time is up",
    TakenOut: "taken out of service",
    PutBack: "put back in service",
}


@dataclass(frozen=True, slots=True)
class Goes:
    """The event leads to the state `to`."""

    to: State
    why: str


@dataclass(frozen=True, slots=True)
class Resumes:
    """The event leads to unacknowledged if the condition is true, else to normal."""

    why: str


@dataclass(frozen=True, slots=True)
class Stays:
    """The event changes no state. While shelved or out of service the condition is still kept."""

    why: str


Entry: TypeAlias = Goes | Resumes | Stays

_SHELVED = Goes(State.SHELVED, "a person sets it aside, for a time they name")
_OUT = Goes(State.OUT_OF_SERVICE, "a person switches it off, until a person puts it back")
_NOT_SHELVED = Stays("it is not on the shelf")
_IN_SERVICE = Stays("it is in service")
_BEING_ASKED = Stays("it is being asked already")

TABLE: Mapping[State, Mapping[type[Event], Entry]] = {
    State.NORMAL: {
        Raised: Goes(State.UNACKNOWLEDGED, "somebody must be told"),
        Returned: Stays("it was not true"),
        Acknowledged: Stays("nothing waits for an answer"),
        ReAlarmed: Stays("there is nothing to ask"),
        Shelved: _SHELVED,
        Unshelved: _NOT_SHELVED,
        TakenOut: _OUT,
        PutBack: _IN_SERVICE,
    },
    State.UNACKNOWLEDGED: {
        Raised: Stays("it waits for an answer since it was first raised"),
        Returned: Goes(State.RETURNED, "it is over, but nobody has said that they know"),
        Acknowledged: Goes(State.ACKNOWLEDGED, "somebody is looking after it"),
        ReAlarmed: _BEING_ASKED,
        Shelved: _SHELVED,
        Unshelved: _NOT_SHELVED,
        TakenOut: _OUT,
        PutBack: _IN_SERVICE,
    },
    State.ACKNOWLEDGED: {
        Raised: Stays("it is true already: a doubled report does not undo the answer"),
        Returned: Goes(State.NORMAL, "it is over and somebody knows"),
        Acknowledged: Stays("the first answer counts"),
        ReAlarmed: Goes(State.UNACKNOWLEDGED, "it is still true, or the one who answered cannot after all"),
        Shelved: _SHELVED,
        Unshelved: _NOT_SHELVED,
        TakenOut: _OUT,
        PutBack: _IN_SERVICE,
    },
    State.RETURNED: {
        Raised: Goes(State.UNACKNOWLEDGED, "true again before anybody answered: the same asking goes on"),
        Returned: Stays("it is over already"),
        Acknowledged: Goes(State.NORMAL, "somebody knows that it was"),
        ReAlarmed: _BEING_ASKED,
        Shelved: _SHELVED,
        Unshelved: _NOT_SHELVED,
        TakenOut: _OUT,
        PutBack: _IN_SERVICE,
    },
    State.SHELVED: {
        Raised: Stays("it tells when it leaves the shelf, if it is still true"),
        Returned: Stays("it will leave the shelf as normal"),
        Acknowledged: Stays("nothing is being asked"),
        ReAlarmed: Stays("nothing is being asked"),
        Shelved: Goes(State.SHELVED, "the newest end holds, sooner or later"),
        Unshelved: Resumes("the shelf ends"),
        TakenOut: _OUT,
        PutBack: _IN_SERVICE,
    },
    State.OUT_OF_SERVICE: {
        Raised: Stays("it tells when it is put back, if it is still true"),
        Returned: Stays("it will come back as normal"),
        Acknowledged: Stays("nothing is being asked"),
        ReAlarmed: Stays("nothing is being asked"),
        Shelved: Stays("it is switched off until it is put back by hand"),
        Unshelved: Stays("it is switched off until it is put back by hand"),
        TakenOut: Stays("it is out of service already"),
        PutBack: Resumes("it is in service again"),
    },
}

_TRUE_IN = (State.UNACKNOWLEDGED, State.ACKNOWLEDGED)
_FALSE_IN = (State.NORMAL, State.RETURNED)
_ASKED_IN = (State.UNACKNOWLEDGED, State.ACKNOWLEDGED, State.RETURNED)
_NOBODY_IN = (State.NORMAL, State.UNACKNOWLEDGED, State.RETURNED)


@dataclass(frozen=True, slots=True)
class Life:
    """Where one alarm stands.

    `condition`: whether what it watches for is true now, kept while shelved or out of service.
    `raised_at_ms`: since when, counted from the first raise that nobody has answered yet.
    `asked_at_ms`: when the present asking began (at the raise, at leaving the shelf, at a re-alarm).
    `by`: who acknowledged it, shelved it or took it out of service.
    A field that has no meaning in a state is None there. ValueError for values that contradict.
    """

    state: State = State.NORMAL
    condition: bool = False
    raised_at_ms: int | None = None
    asked_at_ms: int | None = None
    acknowledged_at_ms: int | None = None
    by: str | None = None
    shelved_until_ms: int | None = None

    def __post_init__(self) -> None:
        fits = (
            not (self.state in _TRUE_IN and not self.condition),
            not (self.state in _FALSE_IN and self.condition),
            (self.raised_at_ms is not None) == (self.condition or self.state is State.RETURNED),
            (self.asked_at_ms is not None) == (self.state in _ASKED_IN),
            (self.acknowledged_at_ms is not None) == (self.state is State.ACKNOWLEDGED),
            (self.shelved_until_ms is not None) == (self.state is State.SHELVED),
            (self.by is None) == (self.state in _NOBODY_IN),
        )
        if not all(fits):
            raise ValueError(f"these fields contradict the state {self.state.value!r}: {self!r}")


NORMAL = Life()


def entry(life: Life, event: Event, now_ms: int) -> Entry:
    """Return what the table says of `event`, with the reason.

    Two events can come too late to mean anything, and then stay without effect: the answer to an
    asking that has passed, and a shelving whose end has passed.
    """
    match event:
        case Acknowledged(asked_at_ms=int(asked)) if asked != life.asked_at_ms:
            return Stays("the answer is to an earlier asking")
        case Shelved(until_ms=until) if until <= now_ms:
            return Stays("the time named is over already")
        case _:
            return TABLE[life.state][type(event)]


def step(life: Life, event: Event, now_ms: int) -> Life:
    """Return the life after `event` at `now_ms`; a shelf whose time is up by then ends first."""
    life = advance(life, now_ms)
    return _after(life, entry(life, event, now_ms), event, now_ms)


def advance(life: Life, now_ms: int) -> Life:
    """Return the life at `now_ms` if nothing happened but time.

    A shelf ends at its own end, even if that is noticed only later.
    """
    if life.shelved_until_ms is None or now_ms < life.shelved_until_ms:
        return life
    return _after(life, TABLE[life.state][Unshelved], Unshelved(), life.shelved_until_ms)


def deadline(life: Life) -> int | None:
    """Return the next instant at which time alone changes the state; None if it never does."""
    return life.shelved_until_ms


def diagram() -> str:
    """Return the table as a Mermaid state diagram: every arrow, labelled with the events that take it."""
    arrows: dict[tuple[str, str], list[str]] = {}
    for state, row in TABLE.items():
        for event, found in row.items():
            for to, label in _arrows(found, WORDS[event]):
                arrows.setdefault((_name(state), _name(to)), []).append(label)
    lines = ["stateDiagram-v2", *(f'    state "{state.value}" as {_name(state)}' for state in State)]
    lines.append(f"    [*] --> {_name(State.NORMAL)}")
    lines += [f"    {start} --> {end}: {', '.join(labels)}" for (start, end), labels in arrows.items()]
    return "\n".join(lines) + "\n"


def to_json(life: Life) -> dict[str, object]:
    """Return the life as a dict of plain values, for JSON."""
    return {
        "state": life.state.value,
        "condition": life.condition,
        "raised_at_ms": life.raised_at_ms,
        "asked_at_ms": life.asked_at_ms,
        "acknowledged_at_ms": life.acknowledged_at_ms,
        "by": life.by,
        "shelved_until_ms": life.shelved_until_ms,
    }


def from_json(data: Mapping[str, object]) -> Life:
    """Return the life that `to_json` wrote; ValueError, saying what was met, for anything else."""
    return Life(
        state=State(stored.text(data, "state")),
        condition=stored.truth(data, "condition"),
        raised_at_ms=stored.whole_or_none(data, "raised_at_ms"),
        asked_at_ms=stored.whole_or_none(data, "asked_at_ms"),
        acknowledged_at_ms=stored.whole_or_none(data, "acknowledged_at_ms"),
        by=stored.text_or_none(data, "by"),
        shelved_until_ms=stored.whole_or_none(data, "shelved_until_ms"),
    )


def _after(life: Life, found: Entry, event: Event, now_ms: int) -> Life:
    condition = (life.condition or isinstance(event, Raised)) and not isinstance(event, Returned)
    state = _state_after(life.state, found, condition=condition)
    stands = condition or state is State.RETURNED
    raised_at_ms = (now_ms if life.raised_at_ms is None else life.raised_at_ms) if stands else None
    if isinstance(found, Stays):
        return replace(life, condition=condition, raised_at_ms=raised_at_ms)
    # A condition that comes and goes while nobody answers is still the same asking: were it a new
    # one each time, the calling would begin anew each time and never reach the second person.
    begins = state is State.UNACKNOWLEDGED and life.state is not State.RETURNED
    asked_at_ms = now_ms if begins else life.asked_at_ms
    by = event.by if isinstance(event, Acknowledged | Shelved | TakenOut) else None
    return Life(
        state=state,
        condition=condition,
        raised_at_ms=raised_at_ms,
        asked_at_ms=asked_at_ms if state in _ASKED_IN else None,
        acknowledged_at_ms=now_ms if state is State.ACKNOWLEDGED else None,
        by=by if state not in _NOBODY_IN else None,
        shelved_until_ms=event.until_ms if isinstance(event, Shelved) else None,
    )


def _state_after(state: State, found: Entry, *, condition: bool) -> State:
    match found:
        case Goes(to):
            return to
        case Resumes():
            return State.UNACKNOWLEDGED if condition else State.NORMAL
        case Stays():
            return state


def _arrows(found: Entry, word: str) -> list[tuple[State, str]]:
    match found:
        case Goes(to):
            return [(to, word)]
        case Resumes():
            return [
                (State.UNACKNOWLEDGED, f"{word} [condition true]"),
                (State.NORMAL, f"{word} [condition not true]"),
            ]
        case Stays():
            return []


def _name(state: State) -> str:
    return state.value.replace(" ", "_")
