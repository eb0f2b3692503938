"""The published methods by name, each with its published setting, and how one is walked through a record."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

from stillwell.limits.published import cuddihy, floeck, moshtaghi, wilhelm
from stillwell.limits.published.lived import Lived, Past
from stillwell.record.columns import Times
from stillwell.replay.distribution import NEVER_MS

Tell: TypeAlias = Callable[[Past, NDArray[np.intp], Sequence[float]], Times]
"""From what was known in the morning, the indices of the day's signs, and some settings to when each setting would tell
of a silence that begins at each of the signs: (settings, signs), ms UTC."""


@dataclass(frozen=True)
class Method:
    """A published way of telling; ``parameter`` is what its source calls its one setting, ``published`` its value."""

    name: str
    parameter: str
    published: float
    tell: Tell


METHODS: Final = (
    Method("Cuddihy 2007", "k", 1.0, cuddihy.alarms),
    Method("Floeck-Litz 2009", "q", 0.1, floeck.alarms),
    Method("Moshtaghi 2015, Pareto", "a", 0.01, partial(moshtaghi.alarms_by, by=moshtaghi.pareto_limit)),
    Method("Moshtaghi 2015, exponential", "a", 0.01, partial(moshtaghi.alarms_by, by=moshtaghi.exponential_limit)),
    Method("Wilhelm-Wahl 2024", "g", 1.1, partial(wilhelm.alarms_with, certainty=1.0)),
)


def walk(tell: Tell, lived: Lived, days: Iterable[int], settings: Sequence[float]) -> Times:
    """Return when each setting tells after each sign, day by day from past days only: (settings, signs), ms UTC.

    Of signs on other days, and on those before which no silence was over, nobody is ever told.
    """
    told = np.full((len(settings), len(lived.times)), NEVER_MS)
    for day in days:
        past = lived.past(day)
        today = past.today()
        if len(today) and len(past.over):
            told[:, today] = tell(past, today, settings)
    return told
