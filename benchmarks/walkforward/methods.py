"""Every method by its name: how it is swept, and when it tells."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np

from walkforward.published import cuddihy, daily, fixed, floeck, moshtaghi, wilhelm
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
    alarms: Callable[[Past, np.ndarray], np.ndarray]
    published: bool


BASELINES = (
    Method(fixed.NAME, fixed.SETTINGS, fixed.UNIT, fixed.alarms, published=False),
    Method(daily.NAME, daily.SETTINGS, daily.UNIT, daily.alarms, published=False),
    Method(cuddihy.NAME, cuddihy.SETTINGS, cuddihy.UNIT, cuddihy.alarms, published=True),
    Method(floeck.NAME, floeck.SETTINGS, floeck.UNIT, floeck.alarms, published=True),
    Method(
        "Moshtaghi 2015, Pareto",
        moshtaghi.SETTINGS,
        moshtaghi.UNIT,
        partial(moshtaghi.alarms_by, by=moshtaghi.pareto_limit),
        published=True,
    ),
    Method(
        "Moshtaghi 2015, exponential",
        moshtaghi.SETTINGS,
        moshtaghi.UNIT,
        partial(moshtaghi.alarms_by, by=moshtaghi.exponential_limit),
        published=True,
    ),
    Method(
        "Wilhelm-Wahl 2024",
        wilhelm.SETTINGS,
        wilhelm.UNIT,
        partial(wilhelm.alarms_with, certainty=1.0),
        published=True,
    ),
)


def warm_days(stream: Stream) -> int:
    """How many days a method learns from before its own past is judged."""
    return min(WARM_DAYS, stream.train_days // 2)


def walk(method: Method, stream: Stream) -> np.ndarray:
    """Return when each setting tells after each sign, day by day from past days only: (settings, signs), ms UTC."""
    told = np.full((len(method.settings), len(stream.times)), NEVER_MS)
    for day in range(warm_days(stream), len(stream.days)):
        past = stream.past(day)
        today = past.today()
        if len(today):
            told[:, today] = method.alarms(past, today)
    return told


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
