"""A bar on standard error while something takes long; nothing where nobody watches."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import click


@contextmanager
def progress(label: str, length: int, *, shown: bool = True) -> Iterator[Callable[[int], None]]:
    """Give what is told how far the work is, from 0 to ``length``."""
    if not (shown and sys.stderr.isatty()):
        yield lambda _done: None
        return
    with click.progressbar(length=max(length, 1), label=label, file=sys.stderr) as bar:
        yield lambda done: bar.update(done - bar.pos)
        bar.update(max(length, 1) - bar.pos)
