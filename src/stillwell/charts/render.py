"""A chart's specification to the bytes of a picture, without any network."""

from collections.abc import Mapping
from typing import Any, Final

from stillwell.charts.desk import converter
from stillwell.problem import refuse

KINDS: Final = (".svg", ".png", ".html")
_PNG_SCALE: Final = 2
"""Dots for each pixel of the chart: sharp in print and on dense screens."""


def check_kind(file: str) -> None:
    """Raise Refusal where no chart can be written to a file of this name, or nothing is there to draw it."""
    if not file.lower().endswith(KINDS):
        raise refuse("a chart cannot be written to this kind of file", f"End it in {' or '.join(KINDS)}.", file=file)
    converter()


def render(spec: Mapping[str, Any], file: str) -> bytes:
    """Return the picture in the kind that the ending of ``file`` says; HTML holds all it needs in itself.

    Raises Refusal for another ending, or where the library that draws is not installed.
    """
    check_kind(file)
    kind = file.lower().rpartition(".")[2]
    if kind == "svg":
        return str(converter().vegalite_to_svg(spec)).encode()
    if kind == "png":
        return bytes(converter().vegalite_to_png(spec, scale=_PNG_SCALE))
    return str(converter().vegalite_to_html(spec, bundle=True)).encode()
