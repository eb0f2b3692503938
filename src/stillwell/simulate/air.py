"""What slow numbers report: temperature with the day, the season and the stove; the air with who is in the room.

The figures are invented: plausible for a heated house in a temperate climate, good for slow curves in a replay and
for nothing else.
"""

from collections.abc import Iterable
from typing import Final

import numpy as np
from numpy.typing import NDArray

from stillwell.civiltime import transitions
from stillwell.plan.model import Part, Plan
from stillwell.record.columns import Numbers, Steps, Times
from stillwell.simulate.draws import stream
from stillwell.simulate.habits import Phase
from stillwell.simulate.house import Use
from stillwell.simulate.life import Life
from stillwell.simulate.spans import clipped, spans_of

_GRID_MS: Final = 600_000
_DAY_MS: Final = 86_400_000
_YEAR_DAYS: Final = 365.25
_EVERY: Final = 3
"""A part that sends every report does so at each third point of the grid."""
_STOVE_BELOW_C: Final = 13.0


class Climate:
    """Weather, stove and people of a life on a grid of ten minutes."""

    def __init__(self, plan: Plan, life: Life, seed: int) -> None:
        start, end = life.agenda.span
        self.life = life
        self.times: Times = np.arange(start, end, _GRID_MS, dtype=np.int64)
        pieces = np.array(transitions(life.zone, life.agenda.span), np.int64)
        local = self.times + pieces[np.searchsorted(pieces[:, 0], self.times, side="right") - 1, 1]
        self.turn: Numbers = 2 * np.pi * (local % _DAY_MS) / _DAY_MS
        south = plan.home.position is not None and plan.home.position[0] < 0
        season = 2 * np.pi * (local / _DAY_MS / _YEAR_DAYS - 20 / _YEAR_DAYS + (0.5 if south else 0.0))
        weather = _wandering(self.times, 2.5, stream(seed, "weather"))
        self.outdoor_c: Numbers = 10 - 8 * np.cos(season) + 3.5 * np.sin(self.turn - 2.4) + weather
        self.stove: Numbers = lagged(self._stove_lit(), 9)

    def _stove_lit(self) -> Numbers:
        """Give the share of each grid interval with the stove lit: cold evenings and breakfasts at home."""
        homely = (Phase.EVENING, Phase.BREAKFAST)
        spans = [(each.start_ms, each.end_ms) for each in self.life.agenda.resident if each.phase in homely]
        return self.share_of(spans) * (self.outdoor_c < _STOVE_BELOW_C)

    def share_of(self, spans: Iterable[tuple[int, int]]) -> Numbers:
        """Give for each grid interval which share of it the spans, joined, cover."""
        edges = np.r_[self.times, self.times[-1] + _GRID_MS]
        cover = clipped(spans_of(spans), int(edges[0]), int(edges[-1]))
        known = np.r_[edges[0], cover.ravel(), edges[-1]].astype(np.float64)
        lengths = np.r_[0, np.tile([0, 1], len(cover)), 0] * np.diff(known, prepend=known[0])
        covered: Numbers = np.diff(np.interp(edges, known, np.cumsum(lengths))) / _GRID_MS
        return covered

    def occupied(self, room: str) -> Numbers:
        """Give the share of each grid interval with somebody in the room."""
        return self.share_of((stay.start_ms, stay.end_ms) for stay in self.life.stays_by_room[room])


def temperature_reports(part: Part, room: str, climate: Climate, rng: np.random.Generator) -> Steps:
    """Report degrees Celsius in steps of 0.2."""
    use = climate.life.house.uses[room]
    drift = _wandering(climate.times, 0.3, rng)
    if use is Use.OUTDOORS:
        celsius = climate.outdoor_c + 2 + drift
    else:
        base = rng.normal(19.5 if use is not Use.SLEEP else 17.5, 0.5)
        near = 3.0 if use is Use.LIVE else 0.8
        swing = 0.6 * np.sin(climate.turn - 2.9) + 0.06 * (climate.outdoor_c - 10)
        celsius = base + swing + near * climate.stove + drift
    return _reported(celsius, 0.2, part, climate.times, rng)


def air_reports(part: Part, room: str, climate: Climate, rng: np.random.Generator) -> dict[str, Steps]:
    """Report carbon dioxide (ppm, steps of 25), humidity (%, 1) and fine dust (ug/m3, 2)."""
    use = climate.life.house.uses[room]
    people = climate.occupied(room)
    wet = 14.0 if use in (Use.WASH, Use.COOK) else 3.0
    dust = 30.0 if use is Use.COOK else 4.0
    co2 = 440 + 750 * lagged(people, 10) + _wandering(climate.times, 15, rng)
    humidity = 47 + 0.4 * (climate.outdoor_c - 10) + wet * lagged(people, 3) + _wandering(climate.times, 2, rng)
    pm25 = 5 + dust * lagged(people, 3) + 6 * climate.stove + np.abs(_wandering(climate.times, 1.5, rng))
    return {
        "co2": _reported(co2, 25, part, climate.times, rng),
        "humidity": _reported(np.clip(humidity, 15, 98), 1, part, climate.times, rng),
        "pm25": _reported(pm25, 2, part, climate.times, rng),
    }


def _reported(values: Numbers, step: float, part: Part, times: Times, rng: np.random.Generator) -> Steps:
    """Round to the step and keep what is reported: each change, or every half hour."""
    rounded = np.round(np.round(values / step) * step, 2)
    if part.reports == "every report":
        kept = np.arange(rounded.size) % _EVERY == 0
    else:
        kept = np.r_[True, np.diff(rounded) != 0]
    jitter_ms = int(rng.integers(_GRID_MS // 2)) + rng.integers(0, 5_000, rounded.size)
    return Steps((times + jitter_ms)[kept], rounded[kept])


def _wandering(times: Times, size: float, rng: np.random.Generator) -> Numbers:
    """Wander about zero: independent normal values at the days' turns, straight lines between them."""
    knots = np.arange(times[0], times[-1] + 2 * _DAY_MS, _DAY_MS)
    return np.interp(times, knots, rng.normal(0, size, knots.size)).astype(np.float64)


def lagged(target: Numbers, steps: float) -> NDArray[np.float64]:
    """Follow a target as a first-order lag with a time constant of so many grid steps."""
    share = 1 / steps
    value, followed = float(target[0]), []
    for wanted in target.tolist():
        value += (wanted - value) * share
        followed.append(value)
    return np.array(followed)
