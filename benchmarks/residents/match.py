"""Whether invented residents are like a recorded one where it matters to limits: long silences, nights, rooms.

Each figure is worked out in the same way for the recorded home (as far as nothing of it had died) and for every
invented one over as many days. The recorded home should be one that might have been drawn: inside the band that holds
95 % of the invented ones.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

import numpy as np

from recorded import recorded_home
from residents.people import home, life_of
from stillwell.civiltime import local_instant
from stillwell.limits.cleaning import Cleaned, clean, known_by
from stillwell.limits.signs import heard
from stillwell.limits.silences import silences_of

HOUR_MS = 3_600_000
LAST_WHOLE_DAY = (2017, 9, 24)
"""After it two of the recorded home's movement detectors die."""
TAIL_H = (1, 2, 4, 6, 8, 10)
BY_DAY_H = (1, 2, 4)
NIGHT_ENDS_H = 5
VISIT_AFTER_H = 1 / 3


@dataclass(frozen=True)
class Matched:
    """A figure of the recorded home, and where the invented ones lie: 2.5 %, half and 97.5 %."""

    figure: str
    recorded: float
    low: float
    median: float
    high: float

    @property
    def inside(self) -> bool:
        """Whether the recorded home lies within the band."""
        return self.low <= self.recorded <= self.high


def figures(cleaned: Cleaned) -> dict[str, float]:
    """Return what a home is like; numbers of silences are those in 30 days."""
    silences = silences_of(cleaned)
    hours, days = silences.length_ms / HOUR_MS, len(cleaned.used)
    clock = silences.local_ms % (24 * HOUR_MS) / HOUR_MS
    by_day = (clock >= 8) & (clock < 20)
    found = {f"silences of {h} h and more": 30 * int((hours >= h).sum()) / days for h in TAIL_H}
    found |= {f"of {h} h and more, begun 08-20 h": 30 * int(((hours >= h) & by_day).sum()) / days for h in BY_DAY_H}
    found["99th of 100 silences, h"] = float(np.quantile(hours, 0.99))
    found["999th of 1000 silences, h"] = float(np.quantile(hours, 0.999))
    found["longest silence, h"] = float(hours.max())
    found["share of days with one of 6 h"] = len(np.unique(silences.day[hours >= 6])) / days
    before = np.append(np.inf, hours[:-1])
    found["times up a night (00-05 h)"] = int(((clock < NIGHT_ENDS_H) & (before >= VISIT_AFTER_H)).sum()) / days
    found["signs of life a day"] = len(hours) / days
    found["changes of room a day"] = int((silences.part[1:] != silences.part[:-1]).sum()) / days
    found["share of the busiest detector"] = float(np.bincount(silences.part).max()) / len(hours)
    return found


def match(seeds: Sequence[int]) -> list[Matched]:
    """Compare the recorded home with invented residents; nothing where it is not at hand."""
    record = recorded_home()
    if record is None:
        return []
    plan = home()
    until = local_instant(ZoneInfo(record.zone), date(*LAST_WHOLE_DAY), 0, "start")
    real = _cleaned(plan, known_by(record, until))
    days = len(real.used)
    invented = [figures(_cleaned(plan, life_of(plan, seed, days).record)) for seed in seeds]
    found = []
    for figure, recorded in figures(real).items():
        low, median, high = np.quantile([one[figure] for one in invented], (0.025, 0.5, 0.975)).tolist()
        found.append(Matched(figure, recorded, low, median, high))
    return found


def _cleaned(plan, record) -> Cleaned:
    whole, names = heard(plan, record)
    return clean(whole, names)
