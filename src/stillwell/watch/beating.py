"""What a home's next heartbeat says, when it is due, and when the home must warn that its keeper does not answer.

Pure: times are milliseconds UTC of the home's engine time, except ``keeper_ms``, the keeper's.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Final

from stillwell.alarms.alarm import Alarm
from stillwell.alarms.life import State
from stillwell.heartbeat import MOST_TEXTS, Answer, Beat, fit

EVERY_MS: Final = 60_000
AGAIN_MS: Final = 1_000
"""So soon after an answer that asks for proof of life the next beat follows."""
WARN_AFTER_MS: Final = 600_000


@dataclass(frozen=True, slots=True)
class Beating:
    """Where the beating of one home stands.

    ``boot`` must be on the disk before the first beat goes out. ``next_ms``: when the next beat is due.
    ``answered_ms``: when the keeper last answered a beat of this start; before that, when the start was.
    ``keeper_ms``: its clock in that answer, 0 before the first.
    """

    boot: int
    seq: int
    next_ms: int
    answered_ms: int
    keeper_ms: int = 0


def next_boot(last: int, now_ms: int) -> int:
    """Return the number of this start, given the last one stored (0 where there is none).

    At least the seconds since 1970, so that it grows although a store was lost; at least one more than the last, so
    that it grows although the clock was set back.
    """
    return max(last + 1, now_ms // 1000)


def begin(boot: int, now_ms: int) -> Beating:
    """Begin to beat, at once."""
    return Beating(boot, 0, next_ms=now_ms, answered_ms=now_ms)


def is_due(state: Beating, now_ms: int, every_ms: int = EVERY_MS) -> bool:
    """Tell whether the next beat is due; after a clock that was set back it does not wait for the old hour."""
    return not now_ms < state.next_ms <= now_ms + every_ms


def beat(
    state: Beating,
    now_ms: int,
    home: str,
    plan: str,
    alarms: Iterable[str],
    remarks: Iterable[str],
    every_ms: int = EVERY_MS,
) -> tuple[Beating, Beat]:
    """Return the beat for now. Too many alarms or remarks are cut short, and the last one says by how many."""
    moved = replace(state, seq=state.seq + 1, next_ms=now_ms + every_ms)
    made = Beat(
        home=home,
        boot=moved.boot,
        seq=moved.seq,
        at_ms=max(0, now_ms),
        keeper_ms=moved.keeper_ms,
        plan=fit(plan),
        alarms=_few(alarms),
        remarks=_few(remarks),
    )
    return moved, made


def answered(state: Beating, home: str, answer: Answer, now_ms: int) -> Beating:
    """Take a genuine answer. One to another beat than the last is too late to prove anything, and changes nothing."""
    if (answer.home, answer.boot, answer.seq) != (home, state.boot, state.seq):
        return state
    proven = answer.alive and state.keeper_ms > 0
    next_ms = state.next_ms if proven else min(state.next_ms, now_ms + AGAIN_MS)
    return replace(state, next_ms=next_ms, answered_ms=now_ms, keeper_ms=answer.keeper_ms)


def must_warn(state: Beating, now_ms: int, warn_after_ms: int = WARN_AFTER_MS) -> bool:
    """Tell whether the keeper has been silent for so long that somebody must be told."""
    return now_ms >= state.answered_ms + warn_after_ms


def open_alarms(alarms: Mapping[str, Alarm]) -> tuple[str, ...]:
    """Return the names of the alarms that are not normal, each with its state where it is not simply unacknowledged."""
    return tuple(
        name if alarm.life.state is State.UNACKNOWLEDGED else f"{name} ({alarm.life.state.value})"
        for name, alarm in alarms.items()
        if alarm.life.state is not State.NORMAL
    )


def _few(texts: Iterable[str]) -> tuple[str, ...]:
    fitted = [fit(text) for text in texts]
    if len(fitted) <= MOST_TEXTS:
        return tuple(fitted)
    return (*fitted[: MOST_TEXTS - 1], f"and {len(fitted) - MOST_TEXTS + 1} more")
