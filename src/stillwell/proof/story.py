"""What happens in a worst case, step by step: what the alarm waits for, who is sent what, who answers, who comes."""

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from stillwell.alarms.call_list import milliseconds
from stillwell.alarms.telling import First, first_messages
from stillwell.engine.axis import Axis, at, runs
from stillwell.engine.columns import Columns, Reports
from stillwell.engine.program import compile_formula
from stillwell.plan.model import Alarm, Plan
from stillwell.proof.witness import Scene, Witness
from stillwell.record.columns import TRUE, Pulses, Record
from stillwell.replay.chain import Chain
from stillwell.rules.formula import And, Formula, Or

MOST_MOMENTS = 3


@dataclass(frozen=True)
class Level:
    """A condition that holds or does not.

    ``before``: it held already just before the onset. ``holds``: the stretches from the onset on in which it holds,
    the first few of them; None ends one that goes on beyond the record.
    """

    formula: Formula
    before: bool
    holds: tuple[tuple[int, int | None], ...]


@dataclass(frozen=True)
class Moments:
    """Something that happens: the first few instants from the onset on."""

    formula: Formula
    times: tuple[int, ...]


Wanted: TypeAlias = Level | Moments


@dataclass(frozen=True)
class Way:
    """One way in which an alarm may be raised: all that must hold together, and how the whole of it goes."""

    parts: tuple[Wanted, ...]
    whole: Wanted


@dataclass(frozen=True)
class Waiting:
    """An alarm for the hazard: what must hold in any case, and the ways of which one is enough; when it asks."""

    alarm: str
    always: tuple[Wanted, ...]
    ways: tuple[Way, ...]
    raised_ms: int | None


@dataclass(frozen=True)
class Message:
    """The first message to somebody on one channel; ``noticed_ms`` None: never."""

    person: str
    channel: str
    sent_ms: int
    arrives_ms: int
    noticed_ms: int | None


@dataclass(frozen=True)
class Answers:
    """What follows an alarm: messages in order, first notice, first acknowledgement, first arrival at the door."""

    messages: tuple[Message, ...]
    told_ms: int | None
    acknowledged_ms: int | None
    at_door_ms: int | None


@dataclass(frozen=True)
class Story:
    """A worst case told: the scene, what the alarms wait for, and what follows the one that tells first."""

    scene: Scene
    waiting: tuple[Waiting, ...]
    alarm: str | None
    answers: Answers | None


def story(plan: Plan, scene: Scene, shown: Witness) -> Story:
    """Tell the story of a witness."""
    found = shown.noticed
    rules = {rule.name: rule for rule in plan.alarm}
    waiting = tuple(_waiting(plan, rules[name], shown, raised) for name, raised in found.raised.items())
    if found.alarm is None:
        return Story(scene, waiting, None, None)
    raised = found.raised[found.alarm]
    assert raised is not None  # it is the alarm that tells
    return Story(scene, waiting, found.alarm, answers(plan, Chain(plan), rules[found.alarm].call, raised))


def answers(plan: Plan, chain: Chain, call: str, raised_ms: int) -> Answers:
    """Return what follows an alarm if everybody answers as the plan says, so long after noticing.

    The first acknowledgement stops the calling. Everybody who was sent a message by then answers too and sets out;
    the earliest arrival counts. Somebody without minutes to the door acknowledges, but does not come.
    """
    sent = [_message(plan, chain, call, raised_ms, first) for first in first_messages(chain.lists[call])]
    noticed = [(one, one.noticed_ms) for one in sent if one.noticed_ms is not None]
    answered = [(one, at_ms + plan.people[one.person].answers_within) for one, at_ms in noticed]
    stopped = min((at_ms for _, at_ms in answered), default=None)
    arrivals = [
        at_ms + milliseconds(60 * minutes)
        for one, at_ms in answered
        if stopped is not None
        and one.sent_ms <= stopped
        and (minutes := plan.people[one.person].minutes_to_door) is not None
    ]
    told = min((at_ms for _, at_ms in noticed), default=None)
    return Answers(tuple(sent), told, stopped, min(arrivals, default=None))


def _message(plan: Plan, chain: Chain, call: str, raised_ms: int, first: First) -> Message:
    sent = raised_ms + first.after_ms
    arrives = sent + plan.people[first.person].channels[first.channel]
    return Message(first.person, first.channel, sent, arrives, chain.notices(call)(first.person, first.channel, sent))


def _waiting(plan: Plan, alarm: Alarm, shown: Witness, raised_ms: int | None) -> Waiting:
    given = [alarm.when.formula] + ([alarm.while_.formula] if alarm.while_ is not None else [])
    parts = [one for formula in given for one in _all_of(formula)]
    choices = [one for one in parts if isinstance(one, Or) and any(isinstance(part, And) for part in one.parts)]
    ways: tuple[Formula, ...] = choices[0].parts if len(choices) == 1 else ()
    always = [one for one in parts if not (ways and one is choices[0])]
    look = _Looking(plan, shown.record, shown.onset_ms)
    found = tuple(Way(tuple(map(look.at, _all_of(way))), look.at(way)) for way in ways)
    return Waiting(alarm.name, tuple(map(look.at, always)), found, raised_ms)


def _all_of(formula: Formula) -> list[Formula]:
    return [one for part in formula.parts for one in _all_of(part)] if isinstance(formula, And) else [formula]


class _Looking:
    """Looks at how a formula goes in a record from an onset on."""

    def __init__(self, plan: Plan, record: Record, onset_ms: int) -> None:
        self.plan = plan
        self.record = record
        self.onset_ms = onset_ms

    def at(self, formula: Formula) -> Wanted:
        program, node = compile_formula(self.plan, formula)
        axis = Axis.of_span(*self.record.span)
        column = Columns(program, axis, Reports.of_record(self.record)).column(node)
        if isinstance(column, Pulses):
            times = column.times[column.times >= self.onset_ms][:MOST_MOMENTS]
            return Moments(formula, tuple(times.tolist()))
        starts, ends = runs(axis, column, TRUE)
        later = ends > self.onset_ms
        stretches = zip(np.maximum(starts[later], self.onset_ms).tolist(), ends[later].tolist(), strict=True)
        holds = [(start, None if end >= self.record.span[1] else end) for start, end in stretches]
        before = int(at(column, np.array([self.onset_ms - 1]))[0]) == TRUE
        return Level(formula, before, tuple(holds[:MOST_MOMENTS]))
