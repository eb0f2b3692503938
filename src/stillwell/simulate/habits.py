"""What the resident does at which part of the day: where to, for how long, and how still.

The figures are invented. They were set by hand until movement events came about as often, and silences lasted about
as long, as in real homes with one older resident (tests/laws/test_simulate_laws.py names the published table).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum, auto
from typing import Final

from stillwell.simulate.house import Use


class Phase(Enum):
    """A part of somebody's day; the two that are spent elsewhere have no habits."""

    NIGHT = auto()
    MORNING = auto()
    BREAKFAST = auto()
    FORENOON = auto()
    LUNCH = auto()
    REST = auto()
    AFTERNOON = auto()
    SUPPER = auto()
    EVENING = auto()
    BEDTIME = auto()
    VISIT = auto()
    GUEST = auto()
    GUEST_NIGHT = auto()
    OUT = auto()
    HOLIDAY = auto()


AWAY: Final = frozenset({Phase.OUT, Phase.HOLIDAY})
NIGHTS: Final = frozenset({Phase.NIGHT, Phase.GUEST_NIGHT})
"""Parts of the day that begin with the first of their habits: going to bed."""


@dataclass(frozen=True, slots=True)
class Habit:
    """A room use with its share of the moves, median stay (min) and median time between movements (s).

    ``stay_spread`` and ``still_spread`` are standard deviations of the logarithm.
    """

    use: Use
    share: float
    stay_min: float
    stay_spread: float
    still_s: float
    still_spread: float = 0.9
    asleep: bool = False


_TOILET: Final = Habit(Use.TOILET, 0.12, 4, 0.4, 110)
_WASH: Final = Habit(Use.WASH, 0.10, 4, 0.8, 75)

HABITS: Final[Mapping[Phase, tuple[Habit, ...]]] = {
    Phase.NIGHT: (
        Habit(Use.SLEEP, 0.80, 290, 0.5, 16_000, 0.8, asleep=True),
        Habit(Use.TOILET, 0.80, 4, 0.4, 110),
        Habit(Use.COOK, 0.06, 5, 0.7, 90),
        Habit(Use.LIVE, 0.04, 35, 0.7, 700, 1.1),
    ),
    Phase.MORNING: (
        Habit(Use.SLEEP, 0.30, 9, 0.7, 150),
        Habit(Use.WASH, 0.40, 13, 0.6, 110),
        Habit(Use.TOILET, 0.30, 5, 0.4, 110),
    ),
    Phase.BREAKFAST: (
        Habit(Use.COOK, 0.65, 13, 0.8, 130),
        Habit(Use.LIVE, 0.35, 10, 0.8, 240),
        _TOILET,
    ),
    Phase.FORENOON: (
        Habit(Use.LIVE, 0.30, 9, 1.1, 170),
        Habit(Use.COOK, 0.35, 6, 1.0, 80),
        Habit(Use.SLEEP, 0.08, 5, 0.9, 100),
        Habit(Use.PASS, 0.08, 1.5, 0.8, 50),
        Habit(Use.OTHER, 0.06, 5, 1.0, 110),
        Habit(Use.OUTDOORS, 0.03, 12, 0.8, 90),
        _WASH,
        _TOILET,
    ),
    Phase.LUNCH: (
        Habit(Use.COOK, 0.70, 12, 0.8, 90),
        Habit(Use.LIVE, 0.30, 15, 0.8, 300),
        _TOILET,
    ),
    Phase.REST: (
        Habit(Use.LIVE, 0.55, 75, 0.6, 5000, 1.0, asleep=True),
        Habit(Use.SLEEP, 0.40, 80, 0.6, 6500, 1.0, asleep=True),
        Habit(Use.TOILET, 0.20, 4, 0.4, 110),
    ),
    Phase.AFTERNOON: (
        Habit(Use.LIVE, 0.45, 25, 1.1, 550, 1.3),
        Habit(Use.COOK, 0.25, 5, 1.0, 90),
        Habit(Use.SLEEP, 0.05, 5, 0.9, 100),
        Habit(Use.PASS, 0.06, 1.5, 0.8, 50),
        Habit(Use.OTHER, 0.05, 6, 1.0, 110),
        Habit(Use.OUTDOORS, 0.03, 15, 0.8, 90),
        _TOILET,
    ),
    Phase.SUPPER: (
        Habit(Use.COOK, 0.60, 12, 0.8, 130),
        Habit(Use.LIVE, 0.40, 15, 0.8, 350),
        _TOILET,
    ),
    Phase.EVENING: (
        Habit(Use.LIVE, 0.60, 52, 1.0, 1200, 1.3),
        Habit(Use.COOK, 0.20, 5, 0.8, 90),
        Habit(Use.PASS, 0.03, 1.5, 0.7, 50),
        Habit(Use.TOILET, 0.16, 4, 0.4, 110),
    ),
    Phase.BEDTIME: (
        Habit(Use.WASH, 0.40, 8, 0.6, 80),
        Habit(Use.SLEEP, 0.30, 6, 0.6, 100),
        Habit(Use.TOILET, 0.30, 4, 0.4, 110),
    ),
    Phase.VISIT: (
        Habit(Use.LIVE, 0.60, 18, 0.8, 130),
        Habit(Use.COOK, 0.30, 6, 0.7, 70),
        Habit(Use.TOILET, 0.10, 4, 0.4, 110),
    ),
    Phase.GUEST: (
        Habit(Use.LIVE, 0.65, 25, 0.8, 130),
        Habit(Use.COOK, 0.20, 6, 0.7, 70),
        Habit(Use.TOILET, 0.15, 4, 0.4, 110),
    ),
    Phase.GUEST_NIGHT: (
        Habit(Use.OTHER, 0.85, 280, 0.5, 12_000, 0.8, asleep=True),
        Habit(Use.TOILET, 0.15, 4, 0.4, 110),
    ),
}
