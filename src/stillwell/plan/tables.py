"""TOML text to nested tables; where that fails, what is wrong in plain words."""

import re
import tomllib
from collections.abc import Mapping
from typing import Any, Final

from stillwell.problem import Place, Problem, Refusal, caret

DEEPEST = 12
"""Tables and lists in each other; a plan needs 5."""


def read_tables(text: str, file: str) -> dict[str, Any]:
    """Read the tables of a TOML text. Raises Refusal with one problem where it is not TOML."""
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise Refusal(_syntax_problem(text, str(error), file)) from error
    except RecursionError as error:
        raise Refusal(_too_deep(file)) from error
    except ValueError as error:  # a whole number of thousands of digits
        raise Refusal(Problem("a number in this file is too long", Place(file), code="toml-syntax")) from error
    if _depth(data) > DEEPEST:
        raise Refusal(_too_deep(file))
    return data


def _depth(data: Mapping[str, Any]) -> int:
    """How many tables and lists stand in each other; counting stops beyond the deepest allowed."""
    depth = 0
    layer: list[Mapping[str, Any] | list[Any]] = [data]
    while layer and depth <= DEEPEST:
        depth += 1
        inner = (each for outer in layer for each in (outer.values() if isinstance(outer, Mapping) else outer))
        layer = [each for each in inner if isinstance(each, (Mapping, list))]
    return depth


def _too_deep(file: str) -> Problem:
    what = "tables or lists in this file stand too deep in each other"
    return Problem(what, Place(file), "A plan needs no more than 5 levels.", code="too-deep")


_WHERE: Final = re.compile(r" \(at (?:line (\d+), column (\d+)|end of document)\)$")

_SYNTAX: Final[tuple[tuple[str, str, str], ...]] = (
    (r"Expected '=' after a key", "this line is neither a [table] nor a key = value", "Write key = value."),
    (r"Expected newline or end", "something follows the value", "One key = value a line; text needs quotes around it."),
    (r"Invalid value", "the value cannot be read", 'Text stands in quotes, as in kind = "movement".'),
    (r"Cannot overwrite a value|Duplicate inline table key", "this key is there already", "Keep one of the two."),
    (r"Cannot declare .* twice", "this table is there already", "Put its keys into one table."),
    (r"Invalid initial character for a key", "no name can begin here", "Names are letters, digits, _ and -."),
    (r"Invalid statement", "this line is neither a [table] nor a key = value",
     "A remark begins with #; keys are letters, digits, _ and -."),
    (r"Unterminated string", "a text begins here or before and has no closing quote", "Close the quotes."),
    (r"Illegal character", "a text is not closed before the end of the line, or holds a forbidden character",
     "Close the quotes."),
    (r"Unclosed array", "a list has no closing ]", "Put commas between its values and ] at its end."),
    (r"Unclosed inline table", "a table in braces has no closing }", "Keep it on one line, with } at its end."),
    (r"Expected ']", "the line of a [table] must end with ]", "Write [table] or [[table]], alone on its line."),
    (r"Unescaped '\\'", '\\ means something in a text in " quotes', "Write \\\\, or use ' quotes."),
    (r"Invalid date or datetime", "there is no such date or time", "Write times as text in quotes."),
    (r"Cannot (mutate|redefine)|Cannot declare", "this name means something else above", "Choose another name."),
)  # fmt: skip


def _syntax_problem(text: str, message: str, file: str) -> Problem:
    where = _WHERE.search(message)
    lines = text.split("\n")
    at_end = where is None or where.group(1) is None
    line = len(lines) if at_end or where is None else int(where.group(1))
    column = len(lines[-1]) + 1 if at_end or where is None else int(where.group(2))
    what, remedy = next(
        ((what, remedy) for pattern, what, remedy in _SYNTAX if re.match(pattern, message)),
        ("the file cannot be read from here on", "Look at this line and the one before it."),
    )
    excerpt = caret(lines[line - 1][:200], column - 1, column) if line <= len(lines) and column <= 200 else ""
    return Problem(what, Place(file, line, column), remedy, excerpt, "toml-syntax")
