"""What a rule's operator remembers between two instants, with ages of timers in place of times.

The operators themselves are the engine's own step forms. Here stands only how each one's memory is taken out and put
back: which of its times still matter, how long each may still matter for, and whether that time is over now.
"""

from collections.abc import Callable, Mapping, Sequence
from types import MappingProxyType
from typing import Any, Final, TypeAlias

from stillwell.engine.operators import count, edge, follow, held, limits, settings, silence
from stillwell.engine.operators.cell import NEVER
from stillwell.engine.program import Operator
from stillwell.record.columns import FALSE, TRUE, UNKNOWN

Memory: TypeAlias = tuple[Any, ...]

Timers: TypeAlias = tuple[tuple[int, bool], ...]
"""(duration, is it over now) of each running timer."""

Kept: TypeAlias = tuple[tuple[int, int], ...]
"""(duration, number of the timer it was before; ``BEGUN`` for one begun now)."""

Put: TypeAlias = Callable[[Any, Any, Memory, Timers, int], None]
"""(cell, operator, memory, timers, now): give the cell a memory as if it had lived through one."""

Take: TypeAlias = Callable[[Any, Any, Memory, Timers, int], tuple[Memory, Kept]]
"""(cell, operator, what was put, timers, now): take the memory out after the cell has looked at the instant ``now``."""

BEGUN: Final = -1
_LATER: Final = 2**40

MOST_WAITING: Final = 3
"""So many pulses of ``a without b`` are followed at once; of further ones only that there are some."""


def is_stateful(operator: Operator) -> bool:
    """Tell whether an operator remembers anything from one instant to the next."""
    return type(operator) in PUT and not (isinstance(operator, edge.Fire) and operator.of_pulse)


def fresh(operator: Operator) -> Memory:
    """Return what stands for the memory before the first instant, which a cell begins by itself."""
    match operator:
        case held.Held():
            return UNKNOWN, False, False
        case follow.Without() | count.Count():
            return (False,)
        case settings.Switched():
            return UNKNOWN, FALSE
        case _:
            return ()


def _begun(timers: Timers, now: int) -> list[int]:
    """Return when timers began: one that is not over has all but just begun."""
    return [now - duration if over else now - 1 for duration, over in timers]


def _put_held(cell: held.HeldCell, _operator: held.Held, memory: Memory, timers: Timers, now: int) -> None:
    seen, false_runs, unknown_runs = memory
    value = seen
    if seen != FALSE and (false_runs or unknown_runs):
        value = FALSE if false_runs else UNKNOWN
    begun = _begun(timers, now)
    cell.load((value, seen, begun[0] if false_runs else NEVER, begun[-1] if unknown_runs else NEVER, NEVER))


def _take_held(
    cell: held.HeldCell, operator: held.Held, _before: Memory, timers: Timers, now: int
) -> tuple[Memory, Kept]:
    """Once x is false nothing before matters; a doubt that ends no later than the last false is over before it is."""
    seen, false_end, unknown_end, duration = cell.seen, cell.false_end, cell.unknown_end, operator.duration_ms
    if seen == FALSE:
        return (seen, False, False), ()
    kept: Kept = ()
    false_runs = now - false_end < duration
    if false_runs:
        kept = ((duration, BEGUN if false_end == now else 0),)
    unknown_runs = seen == TRUE and now - unknown_end < duration and not (false_runs and false_end == now)
    if unknown_runs:
        kept = (*kept, (duration, BEGUN if unknown_end == now else len(timers) - 1))
    return (seen, false_runs, unknown_runs), kept


def _put_silence(
    cell: silence.SilenceCell, operator: silence.Silence, memory: Memory, timers: Timers, now: int
) -> None:
    last = _begun(timers, now)[0] if timers else NEVER
    cell.load((memory[0], last, last + operator.duration_ms))


def _take_silence(
    cell: silence.SilenceCell, operator: silence.Silence, _before: Memory, _timers: Timers, now: int
) -> tuple[Memory, Kept]:
    if cell.value == TRUE:
        return (TRUE,), ()
    return (cell.value,), ((operator.duration_ms, BEGUN if cell.last == now else 0),)


def _put_limits(cell: limits.LimitsCell, operator: limits.Limits, memory: Memory, timers: Timers, now: int) -> None:
    """The limit that runs is the one of the last sign; what gave that sign decides nothing any more."""
    limit = timers[0][0] if timers else operator.longest_ms
    last = _begun(timers, now)[0] if timers else NEVER
    cell.load((memory[0], last, limit, last + limit, ()))


def _take_limits(
    cell: limits.LimitsCell, _operator: limits.Limits, _before: Memory, _timers: Timers, now: int
) -> tuple[Memory, Kept]:
    if cell.value == TRUE:
        return (TRUE,), ()
    return (cell.value,), ((cell.limit, BEGUN if cell.last == now else 0),)


def _put_count(cell: count.CountCell, _operator: count.Count, memory: Memory, timers: Timers, now: int) -> None:
    begun = _begun(timers, now)
    if memory[0]:
        cell.load((UNKNOWN, begun[-1], NEVER, begun[:-1]))
    else:
        cell.load((UNKNOWN, NEVER, NEVER, begun))


def _take_count(
    cell: count.CountCell, operator: count.Count, before: Memory, timers: Timers, now: int
) -> tuple[Memory, Kept]:
    duration = operator.duration_ms
    kept = _in_order(cell.recent, duration, now, len(timers) - before[0])
    runs = now - cell.begin < duration
    if runs:
        kept = (*kept, (duration, BEGUN if cell.begin == now else len(timers) - 1))
    return (runs,), kept


def _put_then(cell: follow.ThenCell, _operator: follow.Then, _memory: Memory, timers: Timers, now: int) -> None:
    cell.load((_begun(timers, now)[0] if timers else NEVER,))


def _take_then(
    cell: follow.ThenCell, operator: follow.Then, _before: Memory, _timers: Timers, now: int
) -> tuple[Memory, Kept]:
    """An a still counts when it is just so old, and no longer."""
    return (), _in_order([cell.last], operator.duration_ms, now, 1)


def _put_without(
    cell: follow.WithoutCell, _operator: follow.Without, _memory: Memory, timers: Timers, now: int
) -> None:
    cell.load((_begun(timers, now),))


def _take_without(
    cell: follow.WithoutCell, operator: follow.Without, before: Memory, timers: Timers, now: int
) -> tuple[Memory, Kept]:
    """Once there are more a than are followed, further ones are not followed either: they are over after these."""
    more = before[0] and cell.second.fired != now
    waiting = [since for since in cell.waiting if since != now] if more else cell.waiting
    kept = _in_order(waiting, operator.duration_ms, now, len(timers))
    return (more or len(kept) > MOST_WAITING,), kept[:MOST_WAITING]


def _put_plain(cell: Any, _operator: object, memory: Memory, _timers: Timers, _now: int) -> None:
    cell.load(memory)


def _take_plain(cell: Any, _operator: object, _before: Memory, _timers: Timers, _now: int) -> tuple[Memory, Kept]:
    return tuple(cell.dump()), ()


def _put_switched(
    cell: settings.SwitchedCell, _operator: settings.Switched, memory: Memory, timers: Timers, now: int
) -> None:
    value, stands = memory
    off_at = NEVER if not timers else now if timers[0][1] else now + _LATER
    cell.load((value, off_at, stands == TRUE))


def _take_switched(
    cell: settings.SwitchedCell, _operator: settings.Switched, before: Memory, timers: Timers, now: int
) -> tuple[Memory, Kept]:
    """Besides ``on``, as the rules know it, is kept how the part stands: as it was last told."""
    stands = before[1]
    if cell.ordered == now:
        stands = TRUE if cell.wanted else FALSE
    off_at = cell.off_at
    if off_at == NEVER:
        return (cell.value, stands), ()
    if off_at == now + _LATER:
        return (cell.value, stands), ((timers[0][0], 0),)
    return (cell.value, stands), ((off_at - now, BEGUN),)


def _in_order(times: Sequence[int], duration: int, now: int, running: int) -> Kept:
    """Return which remembered pulses still matter: the last of the ``running``, and one that has come now."""
    older = [time for time in times if time != now]
    kept = [(duration, running - len(older) + place) for place, time in enumerate(older) if now - time < duration]
    return (*kept, *((duration, BEGUN) for time in times if time == now))


PUT: Final[Mapping[type, Put]] = MappingProxyType(
    {
        held.Held: _put_held,
        silence.Silence: _put_silence,
        limits.Limits: _put_limits,
        count.Count: _put_count,
        follow.Then: _put_then,
        follow.Without: _put_without,
        edge.Edge: _put_plain,
        edge.Fire: _put_plain,
        settings.State: _put_plain,
        settings.Switched: _put_switched,
    }
)
TAKE: Final[Mapping[type, Take]] = MappingProxyType(
    {
        held.Held: _take_held,
        silence.Silence: _take_silence,
        limits.Limits: _take_limits,
        count.Count: _take_count,
        follow.Then: _take_then,
        follow.Without: _take_without,
        edge.Edge: _take_plain,
        edge.Fire: _take_plain,
        settings.State: _take_plain,
        settings.Switched: _take_switched,
    }
)
