"""Carry the state of running rules over to a changed plan, so that no timer that both plans share begins anew."""

from collections.abc import Iterator, Sequence
from typing import Any, TypeAlias

from stillwell.engine.axis import Axis, constant
from stillwell.engine.columns import Columns, Reports
from stillwell.engine.operators import calendar, limits, logic, silence
from stillwell.engine.program import Program
from stillwell.record.columns import FALSE, TRUE, UNKNOWN

Key: TypeAlias = tuple[Any, ...]


def carried(old: Program, snapshot: dict[str, Any], new: Program) -> dict[str, Any]:
    """Return a snapshot for the new program: what means the same in both keeps its state, the rest starts fresh.

    Two nodes mean the same when their operators are equal and all they work on means the same. A silence whose
    limit has changed goes on from the last sign that either plan heard of the same signals, with its new limit.
    """
    old_keys, new_keys = _keys(old), _keys(new)
    memory = dict(zip(old_keys, snapshot["cells"], strict=True))
    cells = [memory.get(key) for key in new_keys]
    last = _last_signs(old, old_keys, snapshot["cells"])
    for index, node in enumerate(new.nodes):
        if cells[index] is None and isinstance(node.operator, silence.Silence | limits.Limits):
            heard = last.get(_signals(new, new_keys, index))
            if heard is not None:
                cells[index] = _taken_up(new, new_keys, index, heard, snapshot["now"])
    return {**snapshot, "cells": cells}


def _keys(program: Program) -> list[Key]:
    keys: list[Key] = []
    for node in program.nodes:
        keys.append((node.operator, *(keys[child] for child in node.children)))
    return keys


Heard: TypeAlias = tuple[int, bool, frozenset[Key] | None]
"""(instant of the last sign or of the start of watching, whether it was a sign, the signals that gave it if known)."""


def _last_signs(program: Program, keys: Sequence[Key], cells: Sequence[Any]) -> dict[frozenset[Key], Heard]:
    """Return what was heard last, by the signals that a silence listens to."""
    found: dict[frozenset[Key], Heard] = {}
    for index, node in enumerate(program.nodes):
        match node.operator:
            case limits.Limits():
                _, at_ms, _, _, seen = cells[index]
                sorts = [program.nodes[child].children for child in node.children[: node.operator.sorts]]
                heard: Heard = at_ms, bool(seen), frozenset(keys[sorts[sort][place]] for sort, place in seen)
            case silence.Silence():
                value, at_ms, _ = cells[index]
                heard = at_ms, value != UNKNOWN, None
            case _:
                continue
        signals = _signals(program, keys, index)
        known = found.get(signals)
        if known is None or (heard[0], heard[2] is not None) > (known[0], known[2] is not None):
            found[signals] = heard
    return found


def _signals(program: Program, keys: Sequence[Key], index: int) -> frozenset[Key]:
    """Return the signals that a silence listens to, sums looked through."""
    node = program.nodes[index]
    sums = node.operator.sorts if isinstance(node.operator, limits.Limits) else 1
    return frozenset(keys[leaf] for child in node.children[:sums] for leaf in _leaves(program, child))


def _leaves(program: Program, index: int) -> Iterator[int]:
    if isinstance(program.nodes[index].operator, logic.AnyPulse):
        for child in program.nodes[index].children:
            yield from _leaves(program, child)
    else:
        yield index


def _taken_up(program: Program, keys: Sequence[Key], index: int, heard: Heard, now: int) -> list[Any]:
    operator, (last, was_sign, _) = program.nodes[index].operator, heard
    seen: list[list[int]] = []
    if isinstance(operator, limits.Limits):
        seen, limit = _limit(program, keys, index, heard)
    else:
        assert isinstance(operator, silence.Silence)
        limit = operator.duration_ms
    due = last + limit
    value = TRUE if due <= now else FALSE if was_sign else UNKNOWN
    return [value, last, limit, due, seen] if isinstance(operator, limits.Limits) else [value, last, due]


def _limit(program: Program, keys: Sequence[Key], index: int, heard: Heard) -> tuple[list[list[int]], int]:
    """Return which signals gave the last sign, and the limit it has in a new table.

    Where it is not known what gave it, or whether a door had moved before, the shortest limit counts that it may have.
    """
    node, (last, was_sign, givers) = program.nodes[index], heard
    operator = node.operator
    assert isinstance(operator, limits.Limits)
    if not was_sign:
        return [], operator.longest_ms
    sorts = [program.nodes[child].children for child in node.children[: operator.sorts]]
    seen = [
        [sort, place]
        for sort, leaves in enumerate(sorts)
        for place, leaf in enumerate(leaves)
        if givers and keys[leaf] in givers
    ]
    may_be = sorted({sort for sort, _ in seen}) or range(operator.sorts)
    applies = {
        child: _stood(program, node.children[child], last) for child in range(operator.sorts, len(node.children))
    }
    found = [
        limits.limit_of(
            rows, operator.longest_ms, [TRUE if row.applies is None else applies[row.applies] for row in rows]
        )
        for rows in map(operator.of_sort, may_be)
    ]
    return seen, min(found, default=operator.longest_ms)


def _stood(program: Program, index: int, at_ms: int) -> int:
    """Return what a level was at an instant of the past, as far as the clock alone tells."""
    axis = Axis.of_span(at_ms, at_ms + 1)
    doubtful = {
        below: constant(axis, UNKNOWN)
        for below in program.cone([index])
        if not isinstance(program.nodes[below].operator, calendar.Window | calendar.Weekdays | logic.AllOf)
    }
    return int(Columns(program, axis, Reports({}), doubtful).steps(index).values[-1])
