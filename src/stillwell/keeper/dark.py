"""When a home has gone dark, as a state machine: state, beat and time in; new state and messages out.

The keeper does not ask when a beat came but what it proves. Each answer tells the keeper's clock, and the next beat
says it back; so a beat proves that the home was alive *after* that instant, however long the beat was under way. Once
the last proof is older than ``dark_after_ms`` the home is dark. A beat that is replayed, doubled or held back proves
nothing new. Times are milliseconds UTC of the keeper's clock, which never runs backwards.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final, NamedTuple

from stillwell.alarms import alarm as alarms
from stillwell.alarms import life, stored
from stillwell.alarms.alarm import Alarm
from stillwell.alarms.call_list import CallList
from stillwell.alarms.calling import Send
from stillwell.alarms.events import Acknowledged, Cannot, Raised, Returned
from stillwell.heartbeat import Beat, beat_fields, beat_of

CLOCK_JUMP_MS: Final = 120_000
"""A change of a home's clock against ours that is no drift and no slow network."""


@dataclass(frozen=True, slots=True)
class Terms:
    """What was agreed for one home. ``settle_ms``: how long a keeper that was down itself waits at most for a beat."""

    home: str
    dark_after_ms: int
    settle_ms: int
    calls: CallList


@dataclass(frozen=True, slots=True)
class Seen:
    """What the keeper knows of one home at ``now_ms``.

    ``alive_ms``: the latest instant after which the home is proven to have been alive; at first, since when it is
    watched. ``heard_ms``: when the last new beat came, whatever it proved. ``spared_ms``: after a standstill of the
    keeper, not to be called dark before this; given once in each silence. ``ahead_ms``: the home's clock against ours.
    """

    now_ms: int
    alive_ms: int
    alarm: Alarm
    heard_ms: int | None = None
    spared_ms: int | None = None
    beat: Beat | None = None
    ahead_ms: int = 0
    clock_jumps: int = 0

    @property
    def is_dark(self) -> bool:
        """Whether the home is dark."""
        return self.alarm.life.condition


class Fact(NamedTuple):
    """Something that happened to a home; ``by`` where a person did it."""

    at_ms: int
    what: str
    by: str = ""


class Moved(NamedTuple):
    """The new state and what is to be done. ``fresh``: whether the beat was a new one."""

    state: Seen
    sends: tuple[Send, ...] = ()
    facts: tuple[Fact, ...] = ()
    fresh: bool = True


def begin(terms: Terms, now_ms: int) -> Seen:
    """Begin to watch a home; its silence counts from now."""
    return Seen(now_ms, now_ms, Alarm(f"{terms.home} is dark"))


def dark_at(terms: Terms, state: Seen) -> int:
    """Return when the home goes dark, or went, if nothing more is heard."""
    return max(state.alive_ms + terms.dark_after_ms, state.spared_ms or 0)


def deadline(terms: Terms, state: Seen) -> int | None:
    """Return when time itself does something next."""
    asking = state.alarm.calling
    due = life.deadline(state.alarm.life) if asking is None else asking.due_ms
    times = [due, None if state.is_dark else dark_at(terms, state)]
    return min((at_ms for at_ms in times if at_ms is not None), default=None)


def pass_time(terms: Terms, state: Seen, now_ms: int) -> Moved:
    """Return what follows if nothing is heard up to ``now_ms``."""
    now_ms = max(now_ms, state.now_ms)
    at_ms = max(dark_at(terms, state), state.now_ms)
    moved = Moved(state)
    if not state.is_dark and at_ms <= now_ms:
        raised = alarms.step(terms.calls, state.alarm, Raised(), at_ms)
        moved = _and(moved, raised, Fact(at_ms, "dark"))
    later = alarms.advance(terms.calls, moved.state.alarm, now_ms)
    asked_again = later.alarm.life.asked_at_ms
    changed = asked_again != moved.state.alarm.life.asked_at_ms and asked_again is not None
    moved = _and(moved, later, Fact(asked_again or now_ms, "still dark, asked again") if changed else None)
    return moved._replace(state=replace(moved.state, now_ms=now_ms))


def heard(terms: Terms, state: Seen, beat: Beat, now_ms: int) -> Moved:
    """Take a genuine beat, after whatever was due by then. One that is not newer than the last changes nothing."""
    moved = pass_time(terms, state, now_ms)
    state, last = moved.state, moved.state.beat
    if last is not None and (beat.boot, beat.seq) <= (last.boot, last.seq):
        return moved._replace(fresh=False)
    moved = _noted(moved, beat)
    # A time that we cannot have told yet is from before our own memory or clock was lost: it proves nothing.
    if not state.alive_ms < beat.keeper_ms <= state.now_ms:
        return moved
    alive = replace(moved.state, alive_ms=beat.keeper_ms)
    if alive.alive_ms + terms.dark_after_ms <= alive.now_ms:
        return moved._replace(state=alive)
    moved = moved._replace(state=replace(alive, spared_ms=None))
    if not alive.is_dark:
        return moved
    returned = alarms.step(terms.calls, alive.alarm, Returned(), alive.now_ms)
    return _and(moved, returned, Fact(alive.now_ms, "heard again"))


def answer(terms: Terms, state: Seen, event: Acknowledged | Cannot, now_ms: int) -> Moved:
    """Take a person's answer. One to an earlier asking changes nothing and leaves no fact."""
    moved = pass_time(terms, state, now_ms)
    outcome = alarms.step(terms.calls, moved.state.alarm, event, moved.state.now_ms)
    changed = outcome.alarm != moved.state.alarm
    word = "cannot" if isinstance(event, Cannot) else "looking after it"
    return _and(moved, outcome, Fact(moved.state.now_ms, word, event.by) if changed else None)


def came_back(terms: Terms, state: Seen, now_ms: int) -> Seen:
    """Take the state up again after the keeper itself was down.

    It could hear nothing meanwhile, so a home that would be called dark at once has a moment to be heard: as long as
    the keeper was down, at most ``settle_ms``, and once in each silence, so that a keeper that falls over and over
    again cannot put it off for ever.
    """
    now_ms = max(now_ms, state.now_ms)
    if state.is_dark or state.spared_ms is not None or dark_at(terms, state) > now_ms:
        return state
    return replace(state, spared_ms=now_ms + min(now_ms - state.now_ms, terms.settle_ms))


def rekeyed(state: Seen) -> Seen:
    """Forget which beats were heard: the home has a new key, and may count from anew."""
    return replace(state, beat=None)


def to_json(state: Seen) -> dict[str, object]:
    """Return the state as a dict of plain values, for JSON."""
    return {
        "now_ms": state.now_ms,
        "alive_ms": state.alive_ms,
        "alarm": alarms.to_json(state.alarm),
        "heard_ms": state.heard_ms,
        "spared_ms": state.spared_ms,
        "beat": None if state.beat is None else beat_fields(state.beat),
        "ahead_ms": state.ahead_ms,
        "clock_jumps": state.clock_jumps,
    }


def from_json(data: Mapping[str, object]) -> Seen:
    """Return the state that ``to_json`` wrote; ValueError, saying what was met, for anything else."""
    beat = stored.table_or_none(data, "beat")
    return Seen(
        now_ms=stored.whole(data, "now_ms"),
        alive_ms=stored.whole(data, "alive_ms"),
        alarm=alarms.from_json(stored.table(data, "alarm")),
        heard_ms=stored.whole_or_none(data, "heard_ms"),
        spared_ms=stored.whole_or_none(data, "spared_ms"),
        beat=None if beat is None else beat_of(beat),
        ahead_ms=stored.whole(data, "ahead_ms"),
        clock_jumps=stored.whole(data, "clock_jumps"),
    )


def _noted(moved: Moved, beat: Beat) -> Moved:
    state, last = moved.state, moved.state.beat
    ahead_ms = beat.at_ms - state.now_ms
    jumped = last is not None and abs(ahead_ms - state.ahead_ms) > CLOCK_JUMP_MS
    restarted = last is not None and beat.boot != last.boot
    facts = [Fact(state.now_ms, what) for what, is_so in (("restarted", restarted), ("clock jumped", jumped)) if is_so]
    noted = replace(
        state,
        heard_ms=state.now_ms,
        beat=beat,
        ahead_ms=ahead_ms,
        clock_jumps=state.clock_jumps + jumped,
    )
    return moved._replace(state=noted, facts=(*moved.facts, *facts))


def _and(moved: Moved, outcome: alarms.Outcome, fact: Fact | None) -> Moved:
    sends = tuple(effect for effect in outcome.effects if isinstance(effect, Send))
    return Moved(
        state=replace(moved.state, alarm=outcome.alarm),
        sends=moved.sends + sends,
        facts=moved.facts if fact is None else (*moved.facts, fact),
        fresh=moved.fresh,
    )
