"""The one door to the libraries that draw, which the base installation leaves out."""

from collections.abc import Mapping, Sequence
from types import ModuleType
from typing import Any

from stillwell.charts.palette import look
from stillwell.problem import Refusal, refuse


def altair() -> ModuleType | Any:
    """Return the library that writes specifications. Raises Refusal where it is not installed."""
    try:
        import altair as alt  # noqa: PLC0415
    except ImportError as error:
        raise _missing() from error
    return alt


def converter() -> ModuleType | Any:
    """Return the library that turns specifications into pictures. Raises Refusal where it is not installed."""
    try:
        import vl_convert as found  # noqa: PLC0415
    except ImportError as error:
        raise _missing() from error
    return found


def specification(chart: Any, data: Mapping[str, Sequence[Mapping[str, Any]]]) -> dict[str, Any]:
    """Return a chart's specification with the look of all charts and the rows that its named data stand for."""
    return {**chart.to_dict(), "config": look(), "datasets": dict(data)}


def _missing() -> Refusal:
    return refuse("charts need further packages", "Run `make install` in Stillwell's folder.")
