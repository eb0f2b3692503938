"""One alarm: its life and its calling, kept in step.

While the life waits for an answer the calling asks; while it is acknowledged the calling watches over
the answer; otherwise there is no calling. Whoever runs alarms (live, in replay, in a proof's
witness) runs this, so that they cannot couple the two differently. Times are milliseconds UTC.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple, TypeAlias

from stillwell.alarms import calling, life, stored
from stillwell.alarms.call_list import CallList
from stillwell.alarms.calling import AskAgain, Calling, Effect
from stillwell.alarms.events import Acknowledged, Cannot, Raised, ReAlarmed, Returned
from stillwell.alarms.life import Life

Event: TypeAlias = life.Event | Cannot


@dataclass(frozen=True, slots=True)
class Alarm:
    """An alarm by its name, with its life and, while somebody asks or has answered, its calling."""

    name: str
    life: Life = life.NORMAL
    calling: Calling | None = None


class Outcome(NamedTuple):
    """The alarm as it is now, what is to be done, and when time itself does something next."""

    alarm: Alarm
    effects: tuple[Effect, ...]
    deadline_ms: int | None


def step(calls: CallList, alarm: Alarm, event: Event, now_ms: int) -> Outcome:
    """Return what follows from `event` at `now_ms`, after whatever was due by then."""
    alarm, before, _ = advance(calls, alarm, now_ms)
    after = alarm.life if isinstance(event, Cannot) else life.step(alarm.life, event, now_ms)
    asking = alarm.calling
    if after.asked_at_ms is None:
        return _outcome(alarm.name, after, None, before)
    if asking is None or asking.asked_at_ms != after.asked_at_ms:
        moved = calling.begin(calls, alarm.name, after.asked_at_ms, condition=after.condition)
    elif isinstance(event, Raised | Returned | Acknowledged | Cannot):
        moved = calling.react(calls, asking, event, now_ms)
    else:
        return _outcome(alarm.name, after, asking, before)
    return _outcome(alarm.name, _asked_again(after, moved.effects), moved.state, before + moved.effects)


def advance(calls: CallList, alarm: Alarm, now_ms: int) -> Outcome:
    """Return the alarm at `now_ms` if nothing happened but time: the shelf's end, the list's waits."""
    after = life.advance(alarm.life, now_ms)
    asking = alarm.calling
    begun: tuple[Effect, ...] = ()
    if asking is None and after.asked_at_ms is not None:
        asking, begun, _ = calling.begin(calls, alarm.name, after.asked_at_ms, condition=after.condition)
    if asking is None:
        return _outcome(alarm.name, after, None, ())
    moved = calling.advance(calls, asking, now_ms)
    return _outcome(alarm.name, _asked_again(after, moved.effects), moved.state, begun + moved.effects)


def to_json(alarm: Alarm) -> dict[str, object]:
    """Return the alarm as a dict of plain values, for JSON."""
    return {
        "name": alarm.name,
        "life": life.to_json(alarm.life),
        "calling": None if alarm.calling is None else calling.to_json(alarm.calling),
    }


def from_json(data: Mapping[str, object]) -> Alarm:
    """Return the alarm that `to_json` wrote; ValueError, saying what was met, for anything else."""
    asking = stored.table_or_none(data, "calling")
    return Alarm(
        name=stored.text(data, "name"),
        life=life.from_json(stored.table(data, "life")),
        calling=None if asking is None else calling.from_json(asking),
    )


def _asked_again(after: Life, effects: tuple[Effect, ...]) -> Life:
    for effect in effects:
        if isinstance(effect, AskAgain):
            after = life.step(after, ReAlarmed(), effect.at_ms)
    return after


def _outcome(name: str, after: Life, asking: Calling | None, effects: tuple[Effect, ...]) -> Outcome:
    due_ms = life.deadline(after) if asking is None else asking.due_ms
    return Outcome(Alarm(name, after, asking), effects, due_ms)
