"""The shape of the table of routes: who may do what, where."""

from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from typing import Final, Literal

from starlette.responses import Response

from stillwell.web.visit import Visit

RESIDENT: Final = "resident"
FAMILY: Final = "family"
RESPONDER: Final = "responder"
FITTER: Final = "fitter"

ALL: Final = frozenset({RESIDENT, FAMILY, RESPONDER, FITTER})
HOUSEHOLD: Final = frozenset({RESIDENT, FAMILY, FITTER})
"""Those who may see how somebody lives. A responder sees what they can act on: how it stands, and the alarms."""
FITTERS: Final = frozenset({FITTER})
ANYBODY: Final[frozenset[str]] = frozenset()
"""Without signing in. Only doors and what they are drawn with."""

Handler = Callable[[Visit], Awaitable[Response]]


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the table. ``twin``: the page is there as JSON too."""

    method: Literal["GET", "POST"]
    path: str
    handler: Handler
    roles: frozenset[str]
    twin: bool = False
