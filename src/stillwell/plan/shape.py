"""Nested tables to plan. Where some values are unfit, the rest still becomes a plan that can be checked."""

from collections.abc import Mapping
from difflib import get_close_matches
from typing import Any, Final

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from stillwell.plan.fault import MOST_FAULTS, Fault, Path, Untold
from stillwell.plan.fields import is_table_of_tables, keys_at
from stillwell.plan.model import Plan
from stillwell.plan.sentences import fault_of

_STAND_IN: Final[Mapping[tuple[str, str], Any]] = {
    ("home", "name"): "?",
    ("home", "timezone"): "UTC",
    ("resident", "name"): "?",
    ("rooms", "outline"): [[0, 0], [1, 0], [0, 1]],
    ("openings", "kind"): "door",
    ("openings", "rooms"): ["outside", "outside"],
    ("parts", "kind"): "radio hub",
    ("parts", "topic"): "?",
    ("parts", "signal"): "alive",
    ("states", "values"): ["off", "on"],
    ("states", "initial"): "off",
    ("limits", "longest"): "1d",
    ("limits", "limit"): "1h",
    ("people", "name"): "?",
    ("people", "channels"): {"call": "1s"},
    ("calls", "steps"): [{"whom": ["?"], "by": "?", "wait": "1s"}],
    ("calls", "whom"): ["?"],
    ("calls", "by"): "?",
    ("calls", "wait"): "1s",
    ("hazard", "name"): "?",
    ("hazard", "kind"): "blind",
    ("hazard", "deadline"): {"day": "1h", "night": "1h"},
    ("hazard", "day"): "1h",
    ("hazard", "night"): "1h",
    ("alarm", "name"): "?",
    ("alarm", "hazard"): "?",
    ("alarm", "when"): "on mon",
    ("alarm", "call"): "?",
    ("aid", "name"): "?",
    ("aid", "when"): "on mon",
    ("aid", "do"): ["unread off"],
    ("never", "claim"): "on mon",
    ("upkeep", "call"): "?",
}
"""For each key that must be there, what holds its place when it cannot be read. Nothing is ever said about it."""

_STAND_IN_ELEMENT: Final[Mapping[str, str]] = {"do": "unread off", "whom": "?"}


def plan_of(data: Mapping[str, Any]) -> tuple[Plan | None, list[Fault], Untold]:
    """Return the plan, what is unfit in its shape, and which paths of the plan are only held open.

    The plan is None where too little of it can be read to be worth checking: no end of faults, or such as
    cannot be held open.
    """
    try:
        return _validated(data), [], Untold()
    except ValidationError as error:
        errors = error.errors(include_url=False)
    if len(errors) > MOST_FAULTS:
        return None, [fault_of(each) for each in errors[: MOST_FAULTS + 1]], Untold()
    faults = _without_echoes([fault_of(each) for each in errors])
    untold: set[Path] = set()
    rest = _copy(data)
    for mend in (_mend_value, _mend_value, _drop_entry, _drop_table):
        for each in errors:
            mend(rest, each, untold)
        try:
            return _validated(rest), faults, Untold(untold)
        except ValidationError as error:
            errors = error.errors(include_url=False)
    return None, faults, Untold()


def _without_echoes(faults: list[Fault]) -> list[Fault]:
    """Leave out that a key is missing where it is there but misspelt, and that a list is short for its unfit values."""
    meant = {(*fault.path[:-1], _meant(fault.path)) for fault in faults if fault.code == "unknown-key"}
    around = {fault.path[:length] for fault in faults for length in range(len(fault.path))}
    return [
        fault
        for fault in faults
        if not (fault.code == "missing-key" and fault.path in meant)
        and not (fault.code == "too-few" and fault.path in around)
    ]


def _validated(data: Mapping[str, Any]) -> Plan:
    return Plan.model_validate(data, by_alias=True, by_name=False)


def _place(error: ErrorDetails) -> Path:
    path: Path = tuple(error["loc"])
    if error["type"] == "missing" and isinstance(path[-1], int):
        return path[:-1]
    is_key = path[-1:] == ("[key]",) and error["type"] in {"string_pattern_mismatch", "string_too_long"}
    return path[:-1] if is_key else path


def _mend_value(data: dict[str, Any], error: ErrorDetails, untold: set[Path]) -> None:
    path = _place(error)
    last = max((number for number, piece in enumerate(path) if isinstance(piece, str)), default=0)
    key = str(path[last])
    if error["type"] == "extra_forbidden":
        _mend_key(data, path, untold)
    elif last < 1 or (last == 1 and is_table_of_tables(str(path[0]))):
        _drop_entry(data, error, untold)
    elif last + 2 == len(path) and key in _STAND_IN_ELEMENT:
        _put(data, path, _STAND_IN_ELEMENT[key])
        untold.add(path)
    else:
        _put(data, path[: last + 1], _STAND_IN.get((str(path[0]), key)))
        untold.add(path[: last + 1])


def _mend_key(data: dict[str, Any], path: Path, untold: set[Path]) -> None:
    """Take out an unknown key; where it is a known one misspelt, what it holds counts as there."""
    meant, value = (*path[:-1], _meant(path)), _get(data, path)
    if meant[-1] and _get(data, meant) is None:
        _put(data, meant, value)
        untold.add(meant)
    elif len(path) == 1 and is_table_of_tables(str(meant[0])) and isinstance(value, dict):
        untold.update((*meant, str(name)) for name in value)
    _put(data, path, None)


def _meant(path: Path) -> str:
    """The known key that the last of a path is most like, or an empty text."""
    return next(iter(get_close_matches(str(path[-1]), keys_at(path[:-1]), n=1, cutoff=0.6)), "")


def _drop_entry(data: dict[str, Any], error: ErrorDetails, untold: set[Path]) -> None:
    path = _place(error)[:2]
    if len(path) < 2 or not (is_table_of_tables(str(path[0])) or isinstance(path[1], int)):
        _drop_table(data, error, untold)
        return
    _put(data, path, _entry(str(path[0])) if isinstance(path[1], int) else None)
    untold.add(path)


def _drop_table(data: dict[str, Any], error: ErrorDetails, untold: set[Path]) -> None:
    table = str(_place(error)[0])
    _put(data, (table,), _entry(table) if table in {"home", "resident"} else None)
    untold.add((table,))


def _entry(table: str) -> dict[str, Any]:
    """An entry, or a table of its own, with what must be there held open."""
    return {key: value for (owner, key), value in _STAND_IN.items() if owner == table and key in _needed(table)}


def _needed(table: str) -> tuple[str, ...]:
    return keys_at((table, 0)) or keys_at((table,))


def _get(data: dict[str, Any], path: Path) -> Any:
    """The value at a path, or None."""
    inner: Any = data
    for piece in path:
        try:
            inner = inner[piece]
        except (KeyError, IndexError, TypeError):
            return None
    return inner


def _put(data: dict[str, Any], path: Path, value: Any) -> None:
    """Set the value at a path, or take it out where ``value`` is None; do nothing where the way there is gone."""
    inner, key = _get(data, path[:-1]), path[-1]
    if isinstance(inner, dict):
        if value is None:
            inner.pop(key, None)
        else:
            inner[key] = _copy(value)
    elif isinstance(inner, list) and isinstance(key, int) and key < len(inner):
        inner[key] = _copy(value)


def _copy(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _copy(inner) for key, inner in value.items()}
    return [_copy(inner) for inner in value] if isinstance(value, list) else value
