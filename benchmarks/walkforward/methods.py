"""Every method by its name: how it is swept, and when it tells."""

from dataclasses import dataclass

import numpy as np

from stillwell.limits.published.methods import METHODS, Tell
from stillwell.limits.published.methods import walk as walk_days
from walkforward import daily, fixed
from walkforward.stream import NEVER_MS, Past, Stream

WARM_DAYS = 7
"""From so many days on, or half of the training days where that is less, a method is walked over past days too, for
its setting is chosen by its false alarms on them."""


@dataclass(frozen=True)
class Method:
    """A way of setting limits with a sweep of its one parameter, from eager to patient."""

    name: str
    settings: tuple[float, ...]
    unit: str
    tell: Tell

    def alarms(self, past: Past, today: np.ndarray) -> np.ndarray:
        """Tell, for each setting of the sweep, of silences that begin at the day's signs."""
        return self.tell(past, today, self.settings)


A = tuple(10.0**power for power in (-1, -1.5, -2, -2.5, -3, -3.5, -4, -5, -6, -7, -8, -10, -12, -16, -20))
SWEEPS = {
    "Cuddihy 2007": (*np.round(np.arange(0.4, 1.2, 0.05), 2).tolist(), 1.2, 1.35, 1.5, 1.75, 2.0, 2.5, 3.0),
    "Floeck-Litz 2009": (
        *np.round(np.arange(-0.8, -0.42, 0.04), 2).tolist(),
        *(-0.4, -0.3, -0.2, -0.1, 0.0, 0.1, 0.2, 0.35, 0.5),
    ),
    "Moshtaghi 2015, Pareto": A,
    "Moshtaghi 2015, exponential": A,
    "Wilhelm-Wahl 2024": (
        *(0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.35, 1.5, 1.6, 1.75, 1.9, 2.0, 2.15, 2.3, 2.5, 2.75, 3.0, 3.5, 4.0),
    ),
}
"""The sweep of each published method's parameter."""
BASELINES = (
    Method(fixed.NAME, fixed.SETTINGS, fixed.UNIT, fixed.alarms),
    Method(daily.NAME, daily.SETTINGS, daily.UNIT, daily.alarms),
    *(Method(each.name, SWEEPS[each.name], each.parameter, each.tell) for each in METHODS),
)


def warm_days(stream: Stream) -> int:
    """How many days a method learns from before its own past is judged."""
    return min(WARM_DAYS, stream.train_days // 2)


def walk(method: Method, stream: Stream) -> np.ndarray:
    """Return when each setting tells after each sign, day by day from past days only: (settings, signs), ms UTC."""
    return walk_days(method.tell, stream, range(warm_days(stream), len(stream.days)), method.settings)


def false_by_day(stream: Stream, told: np.ndarray) -> np.ndarray:
    """Count the false alarms of each setting by day: (settings, days)."""
    false = (told < stream.ends[None, :]) & stream.judgeable[None, :] & (stream.day >= 0)[None, :]
    found = np.zeros((len(told), len(stream.days)), np.int64)
    for row, line in zip(found, false, strict=True):
        np.add.at(row, stream.day[line], 1)
    return found


def chosen_by_day(stream: Stream, false: np.ndarray, per_day: float) -> np.ndarray:
    """Return for each judged day the first setting, from eager to patient, that kept to the rate on the days before.

    Only days from ``warm_days`` on count. Where none kept to it the most patient one is taken.
    """
    warm = warm_days(stream)
    chosen = np.full(len(stream.days), -1)
    for day in range(stream.train_days, len(stream.days)):
        kept = false[:, warm:day].sum(1) <= per_day * (day - warm)
        # only what keeps to it together with all that is more patient, so that one lucky setting is not taken
        safe = np.logical_and.accumulate(kept[::-1])[::-1]
        chosen[day] = int(safe.argmax()) if safe.any() else len(kept) - 1
    return chosen


def honest(stream: Stream, told: np.ndarray, per_day: float) -> np.ndarray:
    """Return alarm times with the setting chosen each day on past days only."""
    chosen = chosen_by_day(stream, false_by_day(stream, told), per_day)
    of_sign = np.where(stream.day >= 0, chosen[np.maximum(stream.day, 0)], -1)
    return np.where(of_sign >= 0, told[np.maximum(of_sign, 0), np.arange(len(of_sign))], NEVER_MS)
