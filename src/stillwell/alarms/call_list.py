"""The call list as data: who is told, by what, how long to wait, who next.

Durations are in seconds as a plan states them; `milliseconds` is the one place that rounds them to
the time the machines run on.
"""

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Channel:
    """A way to tell one person: its kind ("call", "text", "mail", …) and its usual delay."""

    kind: str
    delay_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Responder:
    """One person who can act. `minutes_to_door` is None for somebody who never comes in person."""

    name: str
    channels: tuple[Channel, ...]
    minutes_to_door: float | None = None


@dataclass(frozen=True, slots=True)
class Step:
    """Everyone in `whom` is told `by` one kind of channel, then there are `wait_s` to answer.

    This is done `repeat` times before the next step. A wait of 0 lets the next step follow at once:
    two channels at the same time.
    """

    whom: tuple[str, ...]
    by: str
    wait_s: float
    repeat: int = 1


@dataclass(frozen=True, slots=True)
class CallList:
    """The steps in order and the people they name; `people` may hold others too.

    `then` says what follows the last step: "repeat" starts over; "everyone" tells everybody the
    steps name, by all their channels, again and again after the last step's wait.
    `still_true_after_s`: so long after an acknowledgement it asks again if the condition still holds.
    ValueError if somebody could not be told, or if the calling would not come to rest at an instant.
    """

    name: str
    people: tuple[Responder, ...]
    steps: tuple[Step, ...]
    then: Literal["repeat", "everyone"]
    still_true_after_s: float

    def __post_init__(self) -> None:
        if not self.steps:
            raise ValueError(f"call list {self.name!r} has no steps: at least one belongs here")
        if self.then not in ("repeat", "everyone"):
            raise ValueError(f"call list {self.name!r}: then is {self.then!r}, not 'repeat' or 'everyone'")
        if milliseconds(self.steps[-1].wait_s) < 1:
            raise ValueError(f"call list {self.name!r}: the last step must wait before it all begins anew")
        if milliseconds(self.still_true_after_s) < 1:
            raise ValueError(f"call list {self.name!r}: still_true_after_s must be above 0")
        names = [person.name for person in self.people]
        if len(set(names)) < len(names):
            raise ValueError(f"call list {self.name!r}: two people have the same name")
        for number, step in enumerate(self.steps, start=1):
            _check_step(step, {person.name: person for person in self.people}, f"{self.name!r}, step {number}")


def milliseconds(seconds: float) -> int:
    """Return the duration in whole milliseconds, the nearest."""
    return round(seconds * 1000)


def everyone(calls: CallList) -> tuple[Responder, ...]:
    """Return everybody the steps name, in the order in which they are first told."""
    by_name = {person.name: person for person in calls.people}
    named = dict.fromkeys(name for step in calls.steps for name in step.whom)
    return tuple(by_name[name] for name in named)


def _check_step(step: Step, people: dict[str, Responder], place: str) -> None:
    if not step.whom:
        raise ValueError(f"call list {place} tells nobody")
    if step.repeat < 1 or milliseconds(step.wait_s) < 0:
        raise ValueError(f"call list {place}: repeat is at least 1 and wait_s not below 0")
    for name in step.whom:
        if name not in people:
            raise ValueError(f"call list {place}: {name!r} is not among its people")
        if step.by not in {channel.kind for channel in people[name].channels}:
            raise ValueError(f"call list {place}: {name!r} has no channel {step.by!r}")
