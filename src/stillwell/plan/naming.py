"""How a person would say where something stands in a plan, and what was met there."""

from collections.abc import Iterable, Mapping, Sequence
from difflib import get_close_matches
from typing import Any

from stillwell.plan.fault import Path

_ONE_OF = {"steps": "step", "outline": "corner", "reads": "reading", "rows": "row"}
_LONGEST = 60


def path_name(path: Path, data: Mapping[str, Any]) -> str:
    """Name a path: ``parts.hall_pir, supervision``; ``alarm "Cold", when``; ``calls.family, step 2, by``.

    ``data`` is the plan as nested tables; entries of lists are called by their own names.
    """
    if not path:
        return ""
    table, rest = str(path[0]), path[1:]
    if rest and isinstance(rest[0], int):
        head, rest = _entry_name(table, rest[0], data), rest[1:]
    elif len(path) > 1 and isinstance(data.get(table), Mapping) and table not in {"home", "resident", "upkeep"}:
        head, rest = f"{short(table)}.{short(str(path[1]))}", path[2:]
    else:
        head = short(table)
    return ", ".join([head, *_inner_names(rest)])


def _entry_name(table: str, number: int, data: Mapping[str, Any]) -> str:
    entries = data.get(table)
    entry = entries[number] if isinstance(entries, Sequence) and number < len(entries) else None
    name = entry.get("name") if isinstance(entry, Mapping) else None
    return f'{table} "{short(name)}"' if isinstance(name, str) and name else f"{table} {number + 1}"


def _inner_names(path: Path) -> list[str]:
    names: list[str] = []
    for piece in path:
        if isinstance(piece, str):
            names.append(short(piece))
        elif names and not names[-1][-1:].isdigit():
            names[-1] = f"{_ONE_OF.get(names[-1], names[-1])} {piece + 1}"
        else:
            names.append(f"number {piece + 1}")
    return names


def short(text: str) -> str:
    """Make a text fit into a sentence: one line, printable, not long."""
    plain = "".join(character if character.isprintable() else " " for character in text)
    return plain if len(plain) <= _LONGEST else f"{plain[: _LONGEST - 3]}..."


def met(value: object) -> str:
    """Say what was met: a text in quotes, a number, or what sort of thing it is."""
    match value:
        case bool():
            return "true" if value else "false"
        case str():
            return f'the text "{short(value)}"'
        case int() | float():
            try:
                return f"the number {short(repr(value))}"
            except ValueError:  # Python refuses to write out whole numbers of many thousand digits
                return "a huge number"
        case Mapping():
            return "a table"
        case list() | tuple():
            return "a list"
        case _:
            return "a date or time"


def nearest(name: str, known: Iterable[str], label: str) -> str:
    """Suggest the known names that ``name`` may have been meant for, else list what there is under ``label``."""
    names = sorted(known)
    close = get_close_matches(name, names, n=3, cutoff=0.6)
    if close:
        return f"Did you mean {' or '.join(close)}?"
    if not names:
        return ""
    return f"{label}: {', '.join(names[:20])}{f' and {len(names) - 20} more' if len(names) > 20 else ''}."
