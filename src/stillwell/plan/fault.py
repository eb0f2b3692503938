"""What is wrong with a plan before it has a place in a file: by path, not by line."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TypeAlias

Path: TypeAlias = tuple[str | int, ...]
"""Where a value stands in the data: names of tables and keys, numbers of list elements from 0."""


MOST_FAULTS = 300
"""Nobody mends more in one go, and each suggestion takes time to find."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong at ``path``.

    ``stretch`` is the part of a rule's text at fault (from 0, end excluded), where the value is a rule;
    ``at_key`` says that the key is at fault and not its value.
    """

    path: Path
    code: str
    what: str
    remedy: str = ""
    stretch: tuple[int, int] | None = None
    at_key: bool = False


class Untold:
    """Paths whose values could not be read. Of what hangs on them nothing is said."""

    def __init__(self, paths: Iterable[Path] = ()) -> None:
        self._paths = frozenset(paths)

    def covers(self, path: Path) -> bool:
        """Whether the value at ``path``, or something it is part of, could not be read."""
        return any(path[:length] in self._paths for length in range(len(path) + 1))

    def touches(self, path: Path) -> bool:
        """Whether the value at ``path`` or anything in it could not be read."""
        return self.covers(path) or any(other[: len(path)] == path for other in self._paths)

    def names(self, table: str) -> frozenset[str]:
        """Names of a table's entries that are there but could not be read as a whole."""
        return frozenset(str(path[1]) for path in self._paths if len(path) == 2 and path[0] == table)
