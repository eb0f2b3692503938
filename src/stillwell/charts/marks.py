"""The marks of things that happen: each kind has a shape and a colour of its own, so that either is enough."""

from typing import Final

from stillwell.charts.palette import SHAPES
from stillwell.charts.svg import Value, tag, title

SIZE: Final = 18
_PATHS: Final = dict(
    zip(
        SHAPES,
        (
            "M-6 0A6 6 0 1 0 6 0A6 6 0 1 0-6 0Z",
            "M-5.5-5.5H5.5V5.5H-5.5Z",
            "M0-7L7 5.5H-7Z",
            "M0-7.5L7.5 0L0 7.5L-7.5 0Z",
            "M0 7L7-5.5H-7Z",
            "M-2.5-7H2.5V-2.5H7V2.5H2.5V7H-2.5V2.5H-7V-2.5H-2.5Z",
            "M7 0L-5.5 7V-7Z",
        ),
        strict=True,
    )
)
KINDS: Final = len(_PATHS)


def mark(number: int, said: str, *, hollow: bool = False, **place: Value) -> str:
    """Return the mark of a kind, from 0, at a place in a drawing; beyond the last shape all look alike."""
    return tag("svg", [_shape(number, said, hollow=hollow)], overflow="visible", **place)


def key(number: int, *, hollow: bool = False) -> str:
    """Return the mark of a kind for a legend, which says in words what it stands for."""
    half = SIZE / 2
    return tag(
        "svg",
        [_shape(number, "", hollow=hollow)],
        viewBox=f"{-half:g} {-half:g} {SIZE} {SIZE}",
        width=SIZE,
        height=SIZE,
        class_="key",
        aria_hidden="true",
    )


def _shape(number: int, said: str, *, hollow: bool) -> str:
    number = min(number, KINDS - 1)
    look = f"mark mark-{number + 1}" + (" hollow" if hollow else "")
    return tag("path", [title(said)] if said else (), d=_PATHS[SHAPES[number]], class_=look)
