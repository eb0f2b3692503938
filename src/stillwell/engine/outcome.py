"""What running a plan over a record gives, from either evaluator."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

from stillwell.engine.program import Program
from stillwell.record.columns import Record, Steps, Times


@dataclass(frozen=True)
class Outcome:
    """What would have happened.

    ``fired`` maps each rule to the instants it acted (for an alarm: was raised), ``returned`` each alarm to the
    instants its condition ended. ``levels`` holds the states (as numbers of their values), the switched parts
    (``PART.on``), the loss of each part (``PART.lost``) and each claim by its text.
    """

    fired: Mapping[str, Times]
    returned: Mapping[str, Times]
    levels: Mapping[str, Steps]


class Evaluator(Protocol):
    """Either evaluator: a program and a record in, what would have happened out."""

    def __call__(self, program: Program, record: Record) -> Outcome:
        """Run the program over the record."""
