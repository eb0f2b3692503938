"""Answers for programs: one JSON object on standard output."""

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass
from typing import Any, Final

import click

from stillwell.problem import Problem

_INSTANTS: Final = frozenset({"at_ms", "start_ms", "end_ms", "since_ms", "first_ms", "last_ms", "link_lost_ms"})


def say(answer: Mapping[str, Any]) -> None:
    """Write an answer; what is no number JSON knows (infinite, not a number) becomes null."""
    click.echo(json.dumps(_plain(answer), indent=2, ensure_ascii=False, allow_nan=False))


def problem_answer(problem: Problem) -> dict[str, Any]:
    """Return a problem as an answer gives it."""
    place = problem.place
    return {
        "what": problem.what,
        "remedy": problem.remedy,
        "file": place.file,
        "line": place.line,
        "column": place.column,
        "name": place.name,
        "code": problem.code,
    }


def with_instants(value: Any) -> Any:
    """Turn dataclasses into plain values; instants in ms become ISO 8601 UTC under their name without ``_ms``."""
    from stillwell.record.text import iso

    if is_dataclass(value) and not isinstance(value, type):
        found = {}
        for field in fields(value):
            inner = getattr(value, field.name)
            if field.name in _INSTANTS:
                found[field.name.removesuffix("_ms")] = None if inner is None else iso(inner)
            else:
                found[field.name] = with_instants(inner)
        return found
    if isinstance(value, Mapping):
        return {key: with_instants(inner) for key, inner in value.items()}
    if isinstance(value, Sequence) and not isinstance(value, str):
        return [with_instants(inner) for inner in value]
    return value


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _plain(inner) for key, inner in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(inner) for inner in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value
