"""Calling people until one answers: a state machine over a call list.

State, event and time go in; the new state, the messages to send and the next deadline come out.
The calling goes through the steps and never ends by itself: only an acknowledgement stops it. A
deadline that falls on the same millisecond as an answer comes first, so its messages go out.

`(round, step_index, attempt)` only ever grows within one calling, so no key is used twice, even when
the call list is changed while the calling is on. Times are milliseconds UTC.
"""

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import NamedTuple, TypeAlias

from stillwell.alarms import stored
from stillwell.alarms.call_list import CallList, everyone, milliseconds
from stillwell.alarms.events import Acknowledged, Cannot, Raised, Returned


class Phase(StrEnum):
    ASKING = "asking"
    ANSWERED = "answered"
    OVER = "over"


@dataclass(frozen=True, slots=True)
class Calling:
    """Where the calling for one alarm stands.

    `asked_at_ms`: when the present asking began; an answer names it, so that a late answer to an
    earlier asking is known as such. `condition`: whether what the alarm watches for is true now.
    `round` counts how often the list began; `step_index` equal to the number of steps is the stage
    in which everyone is told; `attempt` counts the repeats of one step. All three from 0.
    `due_ms`: when time itself does something next; None only when over. `cannot`: who of those asked
    in this step said that they cannot. `answered_by`: who is looking after it.
    """

    alarm: str
    asked_at_ms: int
    phase: Phase
    condition: bool
    round: int
    step_index: int
    attempt: int
    due_ms: int | None
    cannot: frozenset[str] = frozenset()
    answered_by: str | None = None

    def __post_init__(self) -> None:
        if (self.due_ms is None) != (self.phase is Phase.OVER):
            raise ValueError(f"a calling has a deadline until it is over: {self!r}")
        if (self.answered_by is None) != (self.phase is Phase.ASKING):
            raise ValueError(f"a calling has somebody who answered once it no longer asks: {self!r}")


@dataclass(frozen=True, slots=True)
class Send:
    """A message to send. The same `key` is the same message: sent twice it counts once."""

    person: str
    channel: str
    step_index: int
    attempt: int
    round: int
    asked_at_ms: int
    at_ms: int
    key: str


@dataclass(frozen=True, slots=True)
class AskAgain:
    """The acknowledged alarm becomes unacknowledged again (`events.ReAlarmed`) at `at_ms`."""

    at_ms: int


Effect: TypeAlias = Send | AskAgain
Event: TypeAlias = Raised | Returned | Acknowledged | Cannot


class Outcome(NamedTuple):
    """The new state, what is to be done, and when time itself does something next (None: never)."""

    state: Calling
    effects: tuple[Effect, ...]
    deadline_ms: int | None


class _Stage(NamedTuple):
    round: int
    step_index: int
    attempt: int


def begin(calls: CallList, alarm: str, asked_at_ms: int, *, condition: bool = True) -> Outcome:
    """Begin to ask: the messages of the first step go out at once."""
    fresh = Calling(alarm, asked_at_ms, Phase.ASKING, condition, 0, 0, 0, due_ms=asked_at_ms)
    return _enter(calls, fresh, _Stage(0, 0, 0), asked_at_ms)


def advance(calls: CallList, state: Calling, now_ms: int) -> Outcome:
    """Return what follows if nothing happened but time up to `now_ms`.

    After a long standstill every missed message comes out, in order, each with the time it was due;
    `newest` leaves of them what is still worth sending.
    """
    effects: list[Effect] = []
    while state.due_ms is not None and state.due_ms <= now_ms:
        if state.phase is Phase.ANSWERED:
            outcome = _ask_again(calls, state, _Stage(state.round + 1, 0, 0), state.due_ms)
        else:
            outcome = _enter(calls, state, _following(calls, state), state.due_ms)
        state = outcome.state
        effects += outcome.effects
    return Outcome(state, tuple(effects), state.due_ms)


def react(calls: CallList, state: Calling, event: Event, now_ms: int) -> Outcome:
    """Return what follows from `event` at `now_ms`, after whatever was due by then.

    Once over, nothing follows any more: a new raise begins a new calling.
    """
    state, before, _ = advance(calls, state, now_ms)
    outcome = _react(calls, state, event, now_ms)
    return outcome._replace(effects=before + outcome.effects)


def newest(sends: Iterable[Send]) -> tuple[Send, ...]:
    """Return the last message for each person and channel, in their order."""
    last: dict[tuple[str, str], Send] = {}
    for send in sends:
        last.pop((send.person, send.channel), None)
        last[send.person, send.channel] = send
    return tuple(last.values())


def following(calls: CallList, state: Calling) -> tuple[tuple[str, str], ...]:
    """Return each person and channel that is told next, if nobody answers by ``due_ms``."""
    return _asked(calls, _following(calls, state).step_index)


def to_json(state: Calling) -> dict[str, object]:
    """Return the calling as a dict of plain values, for JSON."""
    return {
        "alarm": state.alarm,
        "asked_at_ms": state.asked_at_ms,
        "phase": state.phase.value,
        "condition": state.condition,
        "round": state.round,
        "step_index": state.step_index,
        "attempt": state.attempt,
        "due_ms": state.due_ms,
        "cannot": sorted(state.cannot),
        "answered_by": state.answered_by,
    }


def from_json(data: Mapping[str, object]) -> Calling:
    """Return the calling that `to_json` wrote; ValueError, saying what was met, for anything else."""
    return Calling(
        alarm=stored.text(data, "alarm"),
        asked_at_ms=stored.whole(data, "asked_at_ms"),
        phase=Phase(stored.text(data, "phase")),
        condition=stored.truth(data, "condition"),
        round=stored.whole(data, "round"),
        step_index=stored.whole(data, "step_index"),
        attempt=stored.whole(data, "attempt"),
        due_ms=stored.whole_or_none(data, "due_ms"),
        cannot=frozenset(stored.texts(data, "cannot")),
        answered_by=stored.text_or_none(data, "answered_by"),
    )


def _react(calls: CallList, state: Calling, event: Event, now_ms: int) -> Outcome:
    unchanged = Outcome(state, (), state.due_ms)
    match state.phase, event:
        case ((Phase.ASKING | Phase.ANSWERED), Raised()):
            return unchanged._replace(state=replace(state, condition=True))
        case Phase.ASKING, Returned():
            # That it is over is no answer: nobody has said yet that they know.
            return unchanged._replace(state=replace(state, condition=False))
        case Phase.ANSWERED, Returned():
            over = replace(state, phase=Phase.OVER, condition=False, due_ms=None)
            return Outcome(over, (), None)
        case Phase.ASKING, Acknowledged(by, asked) if asked in (None, state.asked_at_ms):
            return _answered(calls, state, by, now_ms)
        case Phase.ASKING, Cannot(by, asked) if asked in (None, state.asked_at_ms):
            return _cannot(calls, state, by, now_ms)
        case Phase.ANSWERED, Cannot(by, asked) if by == state.answered_by and asked in (
            None,
            state.asked_at_ms,
        ):
            return _ask_again(calls, state, _next_step(calls, state), now_ms)
        case _:
            return unchanged


def _answered(calls: CallList, state: Calling, by: str, now_ms: int) -> Outcome:
    if state.condition:
        due_ms = now_ms + milliseconds(calls.still_true_after_s)
        answered = replace(state, phase=Phase.ANSWERED, answered_by=by, due_ms=due_ms)
    else:
        answered = replace(state, phase=Phase.OVER, answered_by=by, due_ms=None)
    return Outcome(answered, (), answered.due_ms)


def _cannot(calls: CallList, state: Calling, by: str, now_ms: int) -> Outcome:
    state = replace(state, cannot=state.cannot | {by})
    asked = {person for person, _ in _asked(calls, state.step_index)}
    onward = _next_step(calls, state)
    # The wait of the last stage stands: a device that answers "cannot" by itself must not make the
    # list run in circles.
    if asked <= state.cannot and onward.round == state.round:
        return _enter(calls, state, onward, now_ms)
    return Outcome(state, (), state.due_ms)


def _ask_again(calls: CallList, state: Calling, stage: _Stage, at_ms: int) -> Outcome:
    outcome = _enter(calls, replace(state, asked_at_ms=at_ms), stage, at_ms)
    return outcome._replace(effects=(AskAgain(at_ms), *outcome.effects))


def _following(calls: CallList, state: Calling) -> _Stage:
    steps = calls.steps
    if state.step_index < len(steps) and state.attempt + 1 < steps[state.step_index].repeat:
        return _Stage(state.round, state.step_index, state.attempt + 1)
    return _next_step(calls, state)


def _next_step(calls: CallList, state: Calling) -> _Stage:
    last = len(calls.steps) - 1
    if state.step_index < last:
        return _Stage(state.round, state.step_index + 1, 0)
    if calls.then == "repeat":
        return _Stage(state.round + 1, 0, 0)
    # Everyone is the stage after the last step; once there, each time is a round of its own.
    return _Stage(state.round + (state.step_index > last), last + 1, 0)


def _enter(calls: CallList, state: Calling, stage: _Stage, at_ms: int) -> Outcome:
    wait_s = calls.steps[min(stage.step_index, len(calls.steps) - 1)].wait_s
    entered = replace(
        state,
        phase=Phase.ASKING,
        round=stage.round,
        step_index=stage.step_index,
        attempt=stage.attempt,
        due_ms=at_ms + milliseconds(wait_s),
        cannot=frozenset(),
        answered_by=None,
    )
    sends = tuple(
        Send(
            person=person,
            channel=channel,
            step_index=stage.step_index,
            attempt=stage.attempt,
            round=stage.round,
            asked_at_ms=entered.asked_at_ms,
            at_ms=at_ms,
            key=_key(entered, person, channel),
        )
        for person, channel in _asked(calls, stage.step_index)
    )
    return Outcome(entered, sends, entered.due_ms)


def _asked(calls: CallList, step_index: int) -> tuple[tuple[str, str], ...]:
    """Return each person and channel of one stage, once."""
    if step_index < len(calls.steps):
        step = calls.steps[step_index]
        return tuple((name, step.by) for name in dict.fromkeys(step.whom))
    pairs = ((person.name, channel.kind) for person in everyone(calls) for channel in person.channels)
    return tuple(dict.fromkeys(pairs))


def _key(state: Calling, person: str, channel: str) -> str:
    what = [
        state.alarm,
        state.asked_at_ms,
        state.round,
        state.step_index,
        state.attempt,
        person,
        channel,
    ]
    return hashlib.sha256(json.dumps(what).encode()).hexdigest()[:32]
