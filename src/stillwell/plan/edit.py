"""Change a plan's text and leave every other character of it as it is: remarks, order, blanks."""

import re
from collections.abc import Mapping
from typing import Any, TypeAlias

import tomlkit

from stillwell.plan.fault import Path
from stillwell.plan.fields import is_list_of_tables, is_table_of_tables
from stillwell.plan.model import Plan, usual_power
from stillwell.plan.positions import Positions, Spot

Value: TypeAlias = "str | bool | int | float | list[Value] | Mapping[str, Value]"


def set_value(text: str, path: Path, value: Value) -> str:
    """Return the text with the value at ``path`` changed, or its key added to the table it belongs to.

    Raises LookupError where there is no such table, or where ``path`` is a table with a header of its own.
    """
    positions = Positions(text)
    spot = positions.spot(path)
    if spot is not None:
        if spot.value is None:
            raise LookupError(f"{path} is a table: change its keys")
        start, end = spot.value
        return text[:start] + _written(value) + text[end:]
    for length in range(len(path) - 1, 0, -1):
        table = positions.spot(path[:length])
        keys = path[length:]
        if table is not None and all(isinstance(key, str) for key in keys):
            line = f"{'.'.join(_key(str(key)) for key in keys)} = {_written(value)}"
            if table.has_header:
                return _insert_line(text, table.end, line)
            if table.value is not None and text[table.value[0]] == "{":
                return _insert_in_braces(text, table, line)
    raise LookupError(f"there is no table for {path}")


def append_entry(text: str, path: Path, entry: Mapping[str, Value]) -> str:
    """Return the text with a new table: ``[parts.name]`` for a path of two names, ``[[alarm]]`` for one of a list.

    It comes after the last of its kind, or at the end of the text.
    """
    table = str(path[0])
    header = f"[[{table}]]" if is_list_of_tables(table) else f"[{'.'.join(_key(str(key)) for key in path)}]"
    kin = [spot.end for spot in Positions(text).spots_in((table,))]
    lines = [header, *(f"{_key(key)} = {_written(value)}" for key, value in entry.items())]
    return _insert_line(text, max(kin, default=len(text)), "\n" + "\n".join(lines))


def write_plan(plan: Plan) -> str:
    """Write a plan as the text of a new file; what is as usual is left out."""
    data = plan.model_dump(mode="json", by_alias=True, exclude_defaults=True)
    for name, part in data.get("parts", {}).items():
        part.pop("power", None)
        if plan.parts[name].power != usual_power(part["kind"]):
            part["power"] = plan.parts[name].power
    blocks = []
    for table, content in data.items():
        if is_list_of_tables(table):
            blocks += [_block(f"[[{table}]]", entry) for entry in content]
        elif is_table_of_tables(table) and all(isinstance(entry, Mapping) for entry in content.values()):
            blocks += [_block(f"[{table}.{name}]", entry) for name, entry in content.items()]
        else:
            blocks.append(_block(f"[{table}]", content))
    return "\n\n".join(blocks) + "\n"


def _block(header: str, content: Mapping[str, Any]) -> str:
    return "\n".join([header, *(f"{_key(key)} = {_written(value)}" for key, value in content.items())])


def _written(value: Value) -> str:
    if isinstance(value, list):
        return f"[{', '.join(_written(each) for each in value)}]"
    if isinstance(value, Mapping):
        inner = ", ".join(f"{_key(key)} = {_written(each)}" for key, each in value.items())
        return f"{{ {inner} }}" if inner else "{}"
    return tomlkit.item(value).as_string()


def _key(name: str) -> str:
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else tomlkit.item(name).as_string()


def _insert_line(text: str, after: int, line: str) -> str:
    """Insert below the line that holds the character before ``after``, with the text's own kind of line end."""
    newline = "\r\n" if "\r\n" in text else "\n"
    line = line.replace("\n", newline)
    at = text.find("\n", after) + 1
    if not at:
        gap = newline if text and not text.endswith("\n") else ""
        return f"{text}{gap}{line}{newline}"
    return f"{text[:at]}{line}{newline}{text[at:]}"


def _insert_in_braces(text: str, table: Spot, line: str) -> str:
    assert table.value is not None
    start, end = table.value
    inner = text[start + 1 : end - 1]
    comma = ", " if inner.strip() else " "
    return f"{text[:start]}{{{inner.rstrip()}{comma}{line} }}{text[end:]}"
