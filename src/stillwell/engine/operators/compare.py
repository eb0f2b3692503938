"""``temperature < 16C``: a number against a figure; unknown while the number is unknown."""

import operator as signs
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from stillwell.engine.axis import Axis, merge_equal
from stillwell.engine.operators.cell import NEVER, Cell
from stillwell.record.columns import FALSE, TRUE, UNKNOWN, Steps

COMPARE: Final[dict[str, Callable[[Any, Any], Any]]] = {
    "<": signs.lt,
    "<=": signs.le,
    ">": signs.gt,
    ">=": signs.ge,
}


@dataclass(frozen=True, slots=True)
class Compare:
    """True where the number compares so."""

    sign: str
    figure: float


def column(operator: Compare, axis: Axis, number: Steps) -> Steps:
    """Return the level."""
    holds = COMPARE[operator.sign](number.values, operator.figure)
    values = np.where(np.isnan(number.values), UNKNOWN, np.where(holds, TRUE, FALSE)).astype(np.int8)
    return merge_equal(axis, number.times, values)


class CompareCell:
    """Keeps nothing but its value."""

    __slots__ = ("body", "compare", "figure", "fired", "value")

    def __init__(self, operator: Compare, body: Cell) -> None:
        self.compare = COMPARE[operator.sign]
        self.figure = operator.figure
        self.body = body
        self.value = UNKNOWN
        self.fired = NEVER

    def start(self, now: int) -> None:
        self.value = UNKNOWN

    def update(self, now: int) -> bool:
        before, number = self.value, self.body.value
        if number != number:  # noqa: PLR0124 - NaN is the unknown number
            self.value = UNKNOWN
        else:
            self.value = TRUE if self.compare(number, self.figure) else FALSE
        return self.value != before

    def dump(self) -> list[Any]:
        return [self.value]

    def load(self, memory: Sequence[Any]) -> None:
        self.value = memory[0]
