"""What is wrong, where, and what would be right: the one shape of every refusal."""

from collections.abc import Iterable
from dataclasses import dataclass

EXIT_REFUSED = 2


@dataclass(frozen=True, slots=True)
class Place:
    """Where something stands: a file, a line and column (both from 1) and a name such as ``alarm "Cold", when``."""

    file: str = ""
    line: int | None = None
    column: int | None = None
    name: str = ""

    def __str__(self) -> str:
        where = self.file
        if self.line is not None:
            where += f":{self.line}"
            if self.column is not None:
                where += f":{self.column}"
        return f"{where} ({self.name})" if where and self.name else where or self.name


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong.

    ``excerpt`` is the offending line with a caret below it, or empty; ``code`` names the kind of problem for
    programs that read the answer.
    """

    what: str
    place: Place = Place()
    remedy: str = ""
    excerpt: str = ""
    code: str = ""

    def __str__(self) -> str:
        lines = [f"{self.place}: {self.what}" if str(self.place) else self.what]
        lines += [f"    {line}" for line in self.excerpt.splitlines()]
        if self.remedy:
            lines.append(f"    {self.remedy}")
        return "\n".join(lines)


class Refusal(Exception):  # noqa: N818 - it is no error of ours: the input is refused
    """The input cannot be used; every problem found in it is told at once."""

    def __init__(self, problems: Problem | Iterable[Problem]) -> None:
        self.problems = (problems,) if isinstance(problems, Problem) else tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


def refuse(what: str, remedy: str = "", *, file: str = "", line: int | None = None, name: str = "") -> Refusal:
    """Make the refusal of one problem, for a caller to raise."""
    return Refusal(Problem(what, Place(file, line, None, name), remedy))


def caret(text: str, start: int, end: int) -> str:
    """Show ``text`` (one line) with carets under columns ``start`` to ``end`` (from 0, end excluded)."""
    flat = text.replace("\n", " ").replace("\t", " ")
    return f"{flat}\n{' ' * start}{'^' * max(1, end - start)}"
