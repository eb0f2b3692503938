"""The page for what cannot be shown or done."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar


@dataclass(frozen=True, slots=True)
class Trouble:
    """What is the matter, and the way on."""

    what: str
    lines: Sequence[str] = ()
    to: str = "/today"
    onward: str = "Back to Today"

    title: ClassVar[str] = "Stillwell"
    template: ClassVar[str] = "trouble.html"
    place: ClassVar[str] = ""
