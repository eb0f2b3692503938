"""The little that a store asks of a database, and the named queries."""

import re
from collections.abc import Iterable, Mapping, Sequence
from contextlib import AbstractContextManager
from functools import cache
from importlib.resources import files
from typing import Any, Final, Protocol, TypeAlias

Params: TypeAlias = Mapping[str, Any]

BUSY: Final = "another process holds it"


class StoreTrouble(Exception):  # noqa: N818 - the world's, not ours
    """The store cannot be used at present. ``full``: there is no room. What was to be written is not written.

    ``unfit``: no fault of the store, but something was to be written that no later try will make it take.
    """

    def __init__(self, what: str, *, full: bool = False, unfit: bool = False) -> None:
        super().__init__(what)
        self.full = full
        self.unfit = unfit


class Database(Protocol):
    """One connection, used by one thread at a time. Raises StoreTrouble and nothing else of the database's own."""

    def rows(self, query: str, params: Params | None = None) -> list[tuple[Any, ...]]:
        """Return the rows that a named query finds."""

    def change(self, query: str, params: Sequence[Params]) -> int:
        """Run a named query once for each of ``params``; return how many rows changed."""

    def transaction(self) -> AbstractContextManager[None]:
        """All or nothing; what is in it has reached the disk when it ends without an error."""

    def script(self, statements: Iterable[str]) -> None:
        """Run statements as they are written in a migration."""

    def has_version(self) -> bool:
        """Tell whether this is a store already; make room for the version number where not, unless only looking."""

    def erase_traces(self, *, shrink: bool) -> None:
        """Leave nothing of deleted rows in the files; ``shrink``: give their room back as well, which takes a while."""

    def close(self) -> None:
        """Let go of the database."""


@cache
def queries() -> Mapping[str, str]:
    """Return the SQL of each named query."""
    text = files("stillwell.store").joinpath("queries.sql").read_text("utf-8")
    pieces = re.split(r"^-- name: (\w+)\n", text, flags=re.MULTILINE)
    return {name: sql.strip().removesuffix(";") for name, sql in zip(pieces[1::2], pieces[2::2], strict=True)}


def migrations() -> list[tuple[int, list[str]]]:
    """Return (number, statements) of each migration, in order; all of them make the schema of today."""
    folder = files("stillwell.store").joinpath("migrations")
    found = sorted(path.name for path in folder.iterdir() if path.name.endswith(".sql"))
    return [(int(name.removesuffix(".sql")), _statements(folder.joinpath(name).read_text("utf-8"))) for name in found]


def _statements(text: str) -> list[str]:
    bare = re.sub(r"^--.*\n", "", text, flags=re.MULTILINE)
    return [statement for piece in bare.split(";") if (statement := piece.strip())]
