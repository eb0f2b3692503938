"""Change a plan's text and leave every other character of it as it is: remarks, order, blanks."""

import re
import tomllib
from collections.abc import Mapping, Sequence
from typing import Any, TypeAlias

import tomlkit

from stillwell.plan.fault import Path
from stillwell.plan.fields import is_list_of_tables, is_table_of_tables
from stillwell.plan.limits import LimitTable
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


def write_limits(text: str, name: str, table: LimitTable) -> str:
    """Return the text with a table of limits in it; where it is there already, what has not changed is left alone.

    Where only limits differ, only they are written; remarks between rows go where rows come or go.
    """
    new = table.model_dump(mode="json", by_alias=True, exclude_defaults=True)
    rows, path = new.pop("rows", []), ("limits", name)
    spot = Positions(text).spot(path)
    if spot is None or not (spot.has_header or spot.value):
        text = append_entry(text, path, new)
        return set_value(text, (*path, "rows"), _Written(_in_lines(rows)))
    old = tomllib.loads(text)["limits"][name]
    for key, value in new.items():
        text = text if old.get(key) == value else set_value(text, (*path, key), value)
    for key in [key for key in ("why", "signal") if key in old and key not in new]:
        text = set_value(text, (*path, key), getattr(LimitTable.model_fields[key], "default", ""))
    before = old.get("rows", [])
    if [{**row, "limit": ""} for row in before] != [{**row, "limit": ""} for row in rows]:
        return set_value(text, (*path, "rows"), _Written(_in_lines(rows)))
    for number, row in enumerate(rows):
        if before[number]["limit"] != row["limit"]:
            text = set_value(text, (*path, "rows", number, "limit"), row["limit"])
    return text


def _in_lines(rows: Sequence[Mapping[str, Value]]) -> str:
    lines = [f"    {_written(row)},\n" for row in rows]
    return f"[\n{''.join(lines)}]" if lines else "[]"


class _Written(str):
    """A value that is TOML already."""

    __slots__ = ()


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
    return "\n".join([header, *(f"{_key(key)} = {_written(_laid_out(key, value))}" for key, value in content.items())])


def _laid_out(key: str, value: Value) -> Value:
    """Return the rows of a table one a line; everything else stands on one line."""
    if key == "rows" and isinstance(value, list):
        return _Written(_in_lines([row for row in value if isinstance(row, Mapping)]))
    return value


def _written(value: Value) -> str:
    if isinstance(value, _Written):
        return str(value)
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
