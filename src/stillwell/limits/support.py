"""What a number of quiet days can carry, by exact Poisson bounds.

False alarms of one home are counted on days that the limits were not learned from. If their rate were as high as
1 / ``budget_days``, so few as were counted (or fewer) would come with a chance of at most 5 %: only then the budget
is shown. None at all shows 1 in D days after 3.0 D days, one after 4.7 D, two after 6.3 D (Garwood, Biometrika 28,
1936: the one-sided bound is the upper end of the two-sided interval with twice the doubt).
"""

import math
from dataclasses import dataclass
from typing import Final

from stillwell.replay.rates import Rate, poisson_interval

CONFIDENCE: Final = 0.95


@dataclass(frozen=True, slots=True)
class Support:
    """Whether days on record carry a budget of one false alarm in ``budget_days``.

    ``least_days`` is the one in how many days that is shown with ``confidence``; ``more_days`` how many quiet days
    are missing, 0 where the budget is shown.
    """

    budget_days: float
    alarms: int
    days: float
    confidence: float
    least_days: float
    more_days: int

    @property
    def shown(self) -> bool:
        """Whether the record carries the budget."""
        return self.more_days == 0


def days_needed(budget_days: float, alarms: int = 0, confidence: float = CONFIDENCE) -> int:
    """Return on how many days ``alarms`` false ones show a rate of at most one in ``budget_days`` days."""
    return math.ceil(budget_days * most_alarms(alarms, confidence))


def most_alarms(alarms: int, confidence: float = CONFIDENCE) -> float:
    """Return the mean of a Poisson count that is not exceeded, with this confidence, where ``alarms`` were counted."""
    return poisson_interval(alarms, 2 * confidence - 1)[1]


def support(budget_days: float, alarms: int, days: float, confidence: float = CONFIDENCE) -> Support:
    """Say whether ``alarms`` false ones on so many days carry the budget, and how many quiet days are missing."""
    needed = days_needed(budget_days, alarms, confidence)
    least = days / most_alarms(alarms, confidence)
    return Support(budget_days, alarms, days, confidence, least, max(0, math.ceil(needed - days)))


def expected_rate(budget_days: float, days: float) -> Rate:
    """Return what a kept promise of one in ``budget_days`` looks like on so many days: a rate and how far chance alone
    carries it.

    A budget is what is not exceeded, so nothing is too few. Too many are more than come with a chance of 2.5 %.
    """
    per_30_days = 30 / budget_days
    if days <= 0:
        return Rate(0, per_30_days, 0.0, math.inf)
    most = _most_by_chance(days / budget_days)
    return Rate(most, per_30_days, 0.0, most / days * 30)


def _most_by_chance(mean: float, doubt: float = 0.025) -> int:
    """Return the smallest count that a Poisson variable exceeds with a chance of at most ``doubt``."""
    count, term = 0, math.exp(-mean)
    total = term
    while 1 - total > doubt:
        count += 1
        term *= mean / count
        total += term
    return count
