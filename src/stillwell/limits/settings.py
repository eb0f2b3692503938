"""What the learner is told."""

from dataclasses import dataclass, field
from typing import Final, TypeAlias

from stillwell.limits.bands import BAND_COSTS
from stillwell.limits.survival import HOUR_MS, Smoothing
from stillwell.limits.tail import SHAPE_SPREAD
from stillwell.plan.texts import EVERY_DAY

LONGEST_MS: Final = 12 * HOUR_MS

Week: TypeAlias = tuple[frozenset[int], ...]
"""Days of the week that are lived alike, Monday 0; together they are the whole week."""

WEEKS: Final[tuple[Week, ...]] = (
    (EVERY_DAY,),
    (frozenset(range(5)), frozenset((5, 6))),
    (frozenset(range(6)), frozenset((6,))),
)
"""All days alike; the weekend apart; Sunday apart."""


@dataclass(frozen=True, slots=True)
class Settings:
    """Frozen after the development homes and invented residents; ablations switch parts of it off.

    ``by_day``: an hour of delay counts so many times where the silence for good begins from ``day_from_h`` to
    ``day_until_h``. ``unseen``: so many false alarms may have stayed unseen by chance; it matters where few are allowed
    in all the days.
    ``own_place``: a part has limits of its own if so much of the silent time follows its signs. ``weeks``: the kinds of
    day that are tried; one that tells days apart must make the mean delay shorter by the share ``apart_saves``.
    ``outing_ms``: what follows a sign at the way out by day, on days with outings, may last so long at least.
    ``rooms``, ``tail``, ``calibrated``: False leaves the place, the tail, or the judging by other days out.
    """

    longest_ms: int = LONGEST_MS
    outing_ms: int = 8 * HOUR_MS
    outing_from_h: int = 7
    outing_until_h: int = 21
    smoothing: Smoothing = field(default_factory=Smoothing)
    by_day: float = 3.0
    day_from_h: int = 8
    day_until_h: int = 22
    unseen: float = 1.0
    blocks: int = 6
    block_days: int = 7
    own_place: float = 0.1
    weeks: tuple[Week, ...] = WEEKS
    apart_saves: float = 0.02
    excesses_per_day: float = 0.15
    shape_spread: float | None = SHAPE_SPREAD
    band_costs: float = BAND_COSTS
    rooms: bool = True
    tail: bool = True
    calibrated: bool = True
