"""Where every key and value of a TOML text stands, by its path in the data.

Made for texts that TOML's own reader has accepted. What the syntax tree cannot place is placed at the nearest
table or key around it.
"""

import re
import tomllib
from array import array
from bisect import bisect_right
from dataclasses import dataclass
from functools import lru_cache

import tree_sitter_toml
from tree_sitter import Language, Node, Parser

from stillwell.plan.fault import Path

_KEYS = frozenset({"bare_key", "quoted_key"})
_VALUES = frozenset(
    {
        "string",
        "integer",
        "float",
        "boolean",
        "offset_date_time",
        "local_date_time",
        "local_date",
        "local_time",
        "array",
        "inline_table",
    }
)
_ESCAPE = re.compile(r"\\(?:u[0-9A-Fa-f]{4}|U[0-9A-Fa-f]{8}|[ \t]*\r?\n[ \t\r\n]*|.)", re.DOTALL)


@dataclass(frozen=True, slots=True)
class Spot:
    """Stretches of the text, in characters from 0 with the end excluded.

    ``key`` is the name before ``=``, the table's header, or for a list element the element itself. ``value`` is
    None for tables not written as ``{...}``; of these, ``has_header`` tells those with a header of their own, and
    their last key ends at ``end``.
    """

    key: tuple[int, int]
    value: tuple[int, int] | None
    end: int
    has_header: bool = False


class Positions:
    """Places of one text; lines and columns count characters from 1."""

    def __init__(self, text: str) -> None:
        self.text = text
        self._lines = array("L", [0, *(match.end() for match in re.finditer("\n", text))])
        self._spots: dict[Path, Spot] = _Walk(text).spots

    def spot(self, path: Path) -> Spot | None:
        """The stretches of exactly this path, or None."""
        return self._spots.get(path)

    def spots_in(self, path: Path) -> list[Spot]:
        """The stretches of a path and of everything in it, in no order."""
        return [spot for other, spot in self._spots.items() if other[: len(path)] == path]

    def place(self, path: Path, *, at_key: bool = False) -> tuple[int, int]:
        """Line and column of the value at ``path`` (or its key), or of the nearest thing around it."""
        for length in range(len(path), 0, -1):
            spot = self._spots.get(path[:length])
            if spot is not None:
                whole = spot.value if length == len(path) and not at_key else None
                return self.line_column((whole or spot.key)[0])
        return 1, 1

    def inside(self, path: Path, index: int) -> tuple[int, int]:
        """Line and column of the character ``index`` of the text that the string at ``path`` stands for."""
        spot = self._spots.get(path)
        if spot is None or spot.value is None:
            return self.place(path)
        start, end = spot.value
        offsets = string_offsets(self.text[start:end])
        return self.line_column(start + offsets[min(max(index, 0), len(offsets) - 1)]) if offsets else self.place(path)

    def line_column(self, offset: int) -> tuple[int, int]:
        """Line and column of a character of the text."""
        line = bisect_right(self._lines, offset)
        return line, offset - self._lines[line - 1] + 1


def string_offsets(raw: str) -> list[int]:
    """For each character that a TOML string stands for, where it begins in ``raw``, quotes and all.

    One more entry follows for the end of the text. Empty where ``raw`` is no string.
    """
    mark = next((mark for mark in ('"""', "'''", '"', "'") if raw.startswith(mark)), "")
    if not mark or len(raw) < 2 * len(mark):
        return []
    at, end = len(mark), len(raw) - len(mark)
    if len(mark) == 3:
        at += 2 if raw.startswith("\r\n", at) else raw.startswith("\n", at)
    offsets = []
    while at < end:
        escape = _ESCAPE.match(raw, at) if mark[0] == '"' and raw[at] == "\\" else None
        if escape is None:
            offsets.append(at)
            at += 2 if raw.startswith("\r\n", at) else 1
        else:
            if not escape.group()[1:].isspace():
                offsets.append(at)
            at = escape.end()
    return [*offsets, end]


class _Walk:
    """One walk over the syntax tree."""

    def __init__(self, text: str) -> None:
        self.spots: dict[Path, Spot] = {}
        self._elements: dict[Path, int] = {}
        data = text.encode("utf-8", "replace")
        self._characters = None if len(data) == len(text) else _character_of_byte(text)
        for node in _parser().parse(data).root_node.children:
            if node.type == "pair":
                self._pair(node, ())
            elif node.type in {"table", "table_array_element"}:
                self._table(node)

    def _table(self, node: Node) -> None:
        keys = next((_keys(child) for child in node.children if child.type in {*_KEYS, "dotted_key"}), [])
        if not keys:
            return
        header = self._stretch(node.children[0], node.children[2])
        path: Path = ()
        for key in keys[:-1]:
            path = self._current((*path, key))
            self.spots.setdefault(path, Spot(header, None, header[1]))
        path = (*path, keys[-1])
        if node.type == "table_array_element":
            self.spots.setdefault(path, Spot(header, None, header[1]))
            self._elements[path] = self._elements.get(path, -1) + 1
        path = self._current(path)
        pairs = [child for child in node.children if child.type == "pair"]
        last = self._stretch(pairs[-1])[1] if pairs else header[1]
        self.spots[path] = Spot(header, None, last, has_header=True)
        for pair in pairs:
            self._pair(pair, path)

    def _current(self, path: Path) -> Path:
        return (*path, self._elements[path]) if path in self._elements else path

    def _pair(self, node: Node, base: Path) -> None:
        pending = [(node, base)]
        while pending:
            pair, path = pending.pop()
            value = next((child for child in pair.children if child.type in _VALUES), None)
            if value is None:
                continue
            stretch, keys = self._stretch(pair.children[0]), _keys(pair.children[0])
            for name in keys[:-1]:
                path = (*path, name)
                self.spots.setdefault(path, Spot(stretch, None, stretch[1]))
            path = (*path, *keys[-1:])
            self._value(value, path, stretch, pending)

    def _value(self, node: Node, path: Path, key: tuple[int, int], pairs: list[tuple[Node, Path]]) -> None:
        pending = [(node, path, key)]
        while pending:
            value, at, key = pending.pop()
            stretch = self._stretch(value)
            self.spots[at] = Spot(key, stretch, stretch[1])
            if value.type == "inline_table":
                pairs += [(child, at) for child in value.children if child.type == "pair"]
            elif value.type == "array":
                elements = [child for child in value.children if child.type in _VALUES]
                pending += [(each, (*at, number), self._stretch(each)) for number, each in enumerate(elements)]

    def _stretch(self, first: Node, last: Node | None = None) -> tuple[int, int]:
        start, end = first.start_byte, (last or first).end_byte
        return (start, end) if self._characters is None else (self._characters[start], self._characters[end])


def _keys(node: Node) -> list[str]:
    names: list[str] = []
    while node.type == "dotted_key":  # grows to the left: the last name is the outermost child
        names.append(_key(node.children[-1]))
        node = node.children[0]
    names.append(_key(node))
    return names[::-1]


def _key(node: Node) -> str:
    raw = (node.text or b"").decode("utf-8", "replace")
    if node.type == "bare_key":
        return raw
    try:
        return next(iter(tomllib.loads(f"{raw} = 0")))
    except tomllib.TOMLDecodeError:
        return raw


def _character_of_byte(text: str) -> "array[int]":
    characters = array("L")
    for number, character in enumerate(text):
        width = len(character.encode("utf-8", "replace"))
        characters.extend([number] * width)
    characters.append(len(text))
    return characters


@lru_cache(maxsize=1)
def _parser() -> Parser:
    return Parser(Language(tree_sitter_toml.language()))
