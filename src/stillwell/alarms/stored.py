"""Reading stored values back: each field is what it should be, or the reading says what it met."""

from collections.abc import Mapping


def text(data: Mapping[str, object], key: str) -> str:
    """Return the text under `key`; ValueError if there is none."""
    value = data.get(key)
    if not isinstance(value, str):
        raise _wrong(key, value, "a text")
    return value


def text_or_none(data: Mapping[str, object], key: str) -> str | None:
    """Return the text under `key`, or None where none was stored."""
    return None if data.get(key) is None else text(data, key)


def whole(data: Mapping[str, object], key: str) -> int:
    """Return the whole number under `key`; ValueError if there is none (true and false are no numbers)."""
    value = data.get(key)
    if not isinstance(value, int) or isinstance(value, bool):
        raise _wrong(key, value, "a whole number")
    return value


def whole_or_none(data: Mapping[str, object], key: str) -> int | None:
    """Return the whole number under `key`, or None where none was stored."""
    return None if data.get(key) is None else whole(data, key)


def truth(data: Mapping[str, object], key: str) -> bool:
    """Return true or false as stored under `key`; ValueError if it is neither."""
    value = data.get(key)
    if not isinstance(value, bool):
        raise _wrong(key, value, "true or false")
    return value


def texts(data: Mapping[str, object], key: str) -> tuple[str, ...]:
    """Return the list of texts under `key`; ValueError if it is anything else."""
    value = data.get(key)
    if not isinstance(value, list | tuple) or not all(isinstance(item, str) for item in value):
        raise _wrong(key, value, "a list of texts")
    return tuple(value)


def table(data: Mapping[str, object], key: str) -> Mapping[str, object]:
    """Return the table under `key`; ValueError if there is none."""
    value = data.get(key)
    if not isinstance(value, Mapping):
        raise _wrong(key, value, "a table")
    return value


def table_or_none(data: Mapping[str, object], key: str) -> Mapping[str, object] | None:
    """Return the table under `key`, or None where none was stored."""
    return None if data.get(key) is None else table(data, key)


def _wrong(key: str, met: object, wanted: str) -> ValueError:
    return ValueError(f"{key} is {met!r}: {wanted} belongs here")
