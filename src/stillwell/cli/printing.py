"""Answers for people: headings, sentences and tables on standard output."""

import re
import shutil
import textwrap
from collections.abc import Iterable, Sequence
from typing import Final

import click

_WIDEST: Final = 100
_NARROWEST: Final = 40
_TIED: Final = "\N{NO-BREAK SPACE}"
_NUMBER_AND_UNIT: Final = re.compile(r"(?<=\d) (?=(?:d|h|min|s|%)\b|%)")


def heading(text: str) -> None:
    """Print a heading with an empty line above it."""
    click.echo()
    click.echo(click.style(text, bold=True))


def paragraph(text: str, first: str = "", rest: str = "") -> None:
    """Print a text, broken at the edge of the screen; ``first`` and ``rest`` stand ahead of its lines."""
    width = max(_NARROWEST, min(shutil.get_terminal_size((_WIDEST, 24)).columns, _WIDEST))
    filled = textwrap.fill(
        _NUMBER_AND_UNIT.sub(_TIED, text),
        width,
        initial_indent=first,
        subsequent_indent=rest or " " * len(first),
        break_on_hyphens=False,
        break_long_words=False,
    )
    click.echo(filled.replace(_TIED, " "))


def items(texts: Iterable[str]) -> None:
    """Print each text as a paragraph of its own, set in a little."""
    for text in texts:
        paragraph(text, "  ", "    ")


def named(pairs: Iterable[tuple[str, str]]) -> None:
    """Print a name on a line and below it, set in, what is said of it."""
    for name, text in pairs:
        click.echo(f"  {name}")
        paragraph(text, "    ")


def table(header: Sequence[str], rows: Sequence[Sequence[str]], left: int = 1) -> None:
    """Print rows below a header, if any; the first ``left`` columns stand flush left, the others flush right."""
    if not rows:
        return
    lines = [header, *rows] if header else rows
    widths = [max(len(row[column]) for row in lines) for column in range(len(lines[0]))]
    for row in lines:
        cells = [
            cell.ljust(width) if column < left else cell.rjust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        click.echo(f"  {'   '.join(cells)}".rstrip())
