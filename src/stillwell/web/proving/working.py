"""What is shown while a proof is being worked out."""

from dataclasses import dataclass
from typing import ClassVar


@dataclass(frozen=True, slots=True)
class Working:
    """How far the proof is, in per cent, and what comes next."""

    home: str
    percent: int
    next: str

    title: ClassVar[str] = "Proof"
    template: ClassVar[str] = "working.html"
    place: ClassVar[str] = "proof"
