"""What the models say about a path: which keys a table there has, which words a value there may be."""

from collections.abc import Mapping
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel

from stillwell.plan.fault import Path
from stillwell.plan.model import Plan


def keys_at(path: Path) -> tuple[str, ...]:
    """The keys of the table at ``path`` as they are written, or nothing where its entries are named freely."""
    model = _type_at(path)
    if isinstance(model, type) and issubclass(model, BaseModel):
        return tuple(field.alias or name for name, field in model.model_fields.items())
    return ()


def words_at(path: Path) -> tuple[str, ...]:
    """The words that the value at ``path`` may be, or nothing where any text may stand."""
    found = _type_at(path)
    return tuple(get_args(found)) if get_origin(found) is Literal else ()


def is_list_of_tables(table: str) -> bool:
    """Whether a top-level table is written ``[[table]]``, once for each entry."""
    return get_origin(_type_at((table,))) is tuple


def is_table_of_tables(table: str) -> bool:
    """Whether a top-level table is written ``[table.name]``, once for each entry."""
    return get_origin(_type_at((table,))) is Mapping


def _type_at(path: Path) -> Any:
    found: Any = Plan
    for piece in path:
        found = _inside(found, piece)
    return found


def _inside(outer: Any, piece: str | int) -> Any:
    arguments = get_args(outer)
    if isinstance(outer, type) and issubclass(outer, BaseModel):
        for name, field in outer.model_fields.items():
            if piece == (field.alias or name):
                return _bare(field.annotation)
    elif get_origin(outer) is Mapping:
        return _bare(arguments[1])
    elif get_origin(outer) is tuple and isinstance(piece, int):
        same = len(arguments) == 2 and arguments[1] is Ellipsis
        if same or piece < len(arguments):
            return _bare(arguments[0 if same else piece])
    return None


def _bare(annotation: Any) -> Any:
    """Without its constraints, and without ``or nothing``."""
    while True:
        origin, arguments = get_origin(annotation), get_args(annotation)
        if origin is Annotated:
            annotation = arguments[0]
        elif origin in {Union, UnionType}:
            annotation = next(each for each in arguments if each is not NoneType)
        else:
            return annotation
