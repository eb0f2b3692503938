"""Who is told, and when, if an alarm is raised at a given instant: the questions of the proof.

Nothing here runs the calling a second way: when each person is first sent a message on each channel
is read off the machine of `calling`, left unanswered. Times are milliseconds UTC.

`Notices(person, channel, sent_at_ms)` gives the instant at which the person notices that message,
never before it was sent, or None for never. It is asked for the first message of each person and
channel only, which is exact as long as (a) a message sent later is not noticed sooner and (b) never
means never on that channel, however often it is tried. Hours, quiet phones, delays, a channel that
is out: all obey both.
"""

from collections.abc import Callable
from functools import lru_cache
from typing import NamedTuple, TypeAlias

from stillwell.alarms.call_list import CallList, everyone, milliseconds
from stillwell.alarms.calling import Send, advance, begin

Notices: TypeAlias = Callable[[str, str, int], int | None]
Reachable: TypeAlias = Callable[[str, str, int], int | None]


class First(NamedTuple):
    """The first message to one person on one channel: so long after the asking began."""

    person: str
    channel: str
    after_ms: int


class Told(NamedTuple):
    """One person notices one message."""

    at_ms: int
    person: str
    channel: str
    sent_at_ms: int


def noticing(calls: CallList, reachable: Reachable) -> Notices:
    """Return the notices of a list's people: the channel's delay, then the person's hours.

    `reachable(person, channel, t_ms)` is the next instant, t_ms or later, at which the person notices
    what has arrived on that channel: a quiet phone when their hours begin. None: never.
    """
    delay_ms = {
        (person.name, channel.kind): milliseconds(channel.delay_s)
        for person in calls.people
        for channel in person.channels
    }

    def notices(person: str, channel: str, sent_at_ms: int) -> int | None:
        return reachable(person, channel, sent_at_ms + delay_ms[person, channel])

    return notices


@lru_cache(maxsize=256)
def first_messages(calls: CallList) -> tuple[First, ...]:
    """Return when each person is first sent a message on each channel, while nobody answers."""
    first: dict[tuple[str, str], int] = {}
    state, effects, due_ms = begin(calls, alarm="", asked_at_ms=0)
    while state.round == 0 and due_ms is not None:
        for send in effects:
            if isinstance(send, Send):
                first.setdefault((send.person, send.channel), send.at_ms)
        state, effects, due_ms = advance(calls, state, due_ms)
    return tuple(First(person, channel, after_ms) for (person, channel), after_ms in first.items())


def told(
    calls: CallList, raised_at_ms: int, notices: Notices, unreachable: frozenset[str] = frozenset()
) -> tuple[Told, ...]:
    """Return who notices what, in the order of noticing, while nobody answers.

    At most one entry for each person and channel. People in `unreachable` notice nothing.
    """
    found = []
    for person, channel, after_ms in first_messages(calls):
        if person in unreachable:
            continue
        at_ms = notices(person, channel, raised_at_ms + after_ms)
        if at_ms is not None:
            found.append(Told(at_ms, person, channel, raised_at_ms + after_ms))
    return tuple(sorted(found, key=lambda one: one.at_ms))


def told_at(
    calls: CallList, raised_at_ms: int, notices: Notices, unreachable: frozenset[str] = frozenset()
) -> int | None:
    """Return the first instant at which somebody who can act has noticed a message; None: never."""
    first = told(calls, raised_at_ms, notices, unreachable)[:1]
    return first[0].at_ms if first else None


def acknowledged_at(
    calls: CallList,
    raised_at_ms: int,
    notices: Notices,
    answer_s: float,
    unreachable: frozenset[str] = frozenset(),
) -> int | None:
    """Return the first acknowledgement if everyone answers `answer_s` after noticing; None: never."""
    at_ms = told_at(calls, raised_at_ms, notices, unreachable)
    return None if at_ms is None else at_ms + milliseconds(answer_s)


def at_door_at(
    calls: CallList,
    raised_at_ms: int,
    notices: Notices,
    answer_s: float,
    unreachable: frozenset[str] = frozenset(),
) -> int | None:
    """Return the first arrival at the door; None: nobody comes.

    The first acknowledgement stops the calling. Everybody who was sent a message by then answers
    too, `answer_s` after noticing it, and sets out; the earliest arrival counts. Somebody without
    minutes to the door acknowledges, and so stops the calling, but does not come.
    """
    messages = told(calls, raised_at_ms, notices, unreachable)
    if not messages:
        return None
    answer_ms = milliseconds(answer_s)
    stopped_at_ms = messages[0].at_ms + answer_ms
    minutes = {person.name: person.minutes_to_door for person in everyone(calls)}
    arrivals = [
        one.at_ms + answer_ms + milliseconds(60 * on_the_way)
        for one in messages
        if one.sent_at_ms <= stopped_at_ms and (on_the_way := minutes[one.person]) is not None
    ]
    return min(arrivals, default=None)
