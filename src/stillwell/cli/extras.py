"""What the light installation leaves out, and how to get it."""

from stillwell.problem import Refusal, refuse


def wanting(what: str, error: ImportError, extra: str) -> Refusal:
    """Make the refusal of something, as in "the pages", for which a package of an extra is not installed."""
    return refuse(f"{what} needs a further package ({error.name})", f'pip install "stillwell[{extra}]"')
