"""Default failure rates, repair times and mains figures, each with where it came from.

Few household parts have a published field figure. Where one is borrowed or simply assumed, its mark says so;
a plan may override every one, and a protected share computed from them is to be shown with the worst mark
used.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from types import MappingProxyType
from typing import Final

from stillwell.problem import refuse
from stillwell.proof.tree.rates import HOURS_PER_YEAR, steady_unavailability


class Mark(StrEnum):
    """How well a figure is founded, best first."""

    SET = "set for this home"
    PUBLISHED = "published"
    WORKED_OUT = "worked out from published figures"
    BORROWED = "published for another kind of part"
    MEMORY = "from memory"
    COMMON = "common practice, no source"


@dataclass(frozen=True, slots=True)
class Figure:
    """A number with its foundation; the unit stands in the name of the field that holds it."""

    value: float
    mark: Mark
    source: str


@dataclass(frozen=True, slots=True)
class PartFigures:
    """How often a part fails, and how long it takes from the failure being noticed until it works again.

    ``unused_share`` is the share of needs in which a part that works is not used (a call button not pressed).
    """

    failures_per_year: Figure
    repair_h: Figure
    unused_share: Figure | None = None


@dataclass(frozen=True, slots=True)
class MainsFigures:
    """Interruptions of the mains for the average customer: minutes and number a year (SAIDI, SAIFI)."""

    saidi_min_per_year: Figure
    saifi_per_year: Figure


_SMOKE_SOURCE = (
    "NFPA fact sheet on the age of home smoke alarms: four failures in a million hours, confirmed by a field "
    "study of the Ontario Housing Corporation as 3 % a year; without batteries"
)
_SURVEY = "opinion survey of 2000 UK adults, Opinium, November 2025 (hours offline by cause, as remembered)"
_POST = Figure(120, Mark.COMMON, "a new part ordered, posted, and fitted at a visit: five days")
_LIKE_SMOKE = Figure(0.035, Mark.BORROWED, f"that of a smoke alarm, for want of one of its own: {_SMOKE_SOURCE}")
_LIKE_ROUTER = Figure(
    0.117,
    Mark.BORROWED,
    f"a home router: 27 % of the 41 % with an outage say it was not working, so -ln(1 - 0.111) a year; {_SURVEY}",
)
_LIKE_ROUTER_REPAIR = Figure(24.6, Mark.BORROWED, f"a home router: hours a year where it had failed; {_SURVEY}")
_NOT_PRESSED = Figure(
    0.80,
    Mark.PUBLISHED,
    "Fleming & Brayne, BMJ 2008;337:a2227: in 113 of 141 falls alone without getting up a call alarm "
    "was there and not used; people over 90",
)

_DETECTOR = PartFigures(_LIKE_SMOKE, _POST)
_BOX = PartFigures(_LIKE_ROUTER, _LIKE_ROUTER_REPAIR)

PARTS: Final[Mapping[str, PartFigures]] = MappingProxyType(
    {
        "movement": _DETECTOR,
        "contact": _DETECTOR,
        "vibration": _DETECTOR,
        "pressure": PartFigures(
            Figure(0.1, Mark.COMMON, "about three times a wall detector's: it is lain or trodden on"), _POST
        ),
        "water": _DETECTOR,
        "smoke": PartFigures(Figure(0.035, Mark.PUBLISHED, _SMOKE_SOURCE), _POST),
        "carbon monoxide": _DETECTOR,
        "temperature": _DETECTOR,
        "air": _DETECTOR,
        "outlet": _DETECTOR,
        "lamp": PartFigures(
            Figure(
                0.038,
                Mark.MEMORY,
                "Regulation (EU) 2019/2020, endurance test: 9 of 10 LED lamps alive after 3000 h alight, so "
                "-ln(0.9) / 3000 for each hour, at 3 h a day; an upper bound",
            ),
            _POST,
        ),
        "sounder": _DETECTOR,
        "push button": PartFigures(_LIKE_SMOKE, _POST, _NOT_PRESSED),
        "camera": _BOX,
        "radio hub": _BOX,
        "controller": _BOX,
        "wearable call button": PartFigures(
            Figure(0.1, Mark.COMMON, "about three times a wall detector's: it is worn, wetted and dropped"),
            _POST,
            _NOT_PRESSED,
        ),
        "battery": PartFigures(
            Figure(
                0.078,
                Mark.COMMON,
                "a 225 mAh cell at 10 uA lasts 2.57 years, and one in five is not changed at its warning; "
                "compare CPSC, October 2000: in 20 % of homes with smoke alarms they did not work, mostly "
                "for a dead or missing battery",
            ),
            _POST,
        ),
        "internet": PartFigures(
            Figure(
                0.43,
                Mark.WORKED_OUT,
                f"causes but power cuts and radio interference, 106 % of the 41 % with an outage; {_SURVEY}",
            ),
            Figure(16.2, Mark.WORKED_OUT, f"7.05 h a year over the same causes, by their number; {_SURVEY}"),
        ),
    }
)
"""By the plan's kinds of part, and "battery" and "internet" beside them."""


def _ceer(saidi_min: float, saifi: float) -> MainsFigures:
    source = "CEER Benchmarking Report 6.1 for 2016, unplanned, as tabled by the UK National Audit Office, 2020"
    return MainsFigures(Figure(saidi_min, Mark.PUBLISHED, source), Figure(saifi, Mark.PUBLISHED, source))


def _eia(saidi_min: float, saifi: float, table: str) -> MainsFigures:
    source = f"US EIA, Electric Power Annual, table {table}, 2023, with major events"
    return MainsFigures(Figure(saidi_min, Mark.PUBLISHED, source), Figure(saifi, Mark.PUBLISHED, source))


MAINS: Final[Mapping[str, MainsFigures]] = MappingProxyType(
    {
        "Europe": _ceer(69, 1.1),
        "Austria": _ceer(24, 0.6),
        "Croatia": _ceer(102, 1.4),
        "Czechia": _ceer(73, 1.5),
        "Denmark": _ceer(15, 0.4),
        "Germany": MainsFigures(
            Figure(12.8, Mark.PUBLISHED, "Bundesnetzagentur for 2023, without force majeure, over 3 min"),
            _ceer(13, 0.5).saifi_per_year,
        ),
        "Great Britain": _ceer(38, 0.5),
        "Greece": _ceer(96, 1.5),
        "Hungary": _ceer(75, 1.0),
        "Ireland": _ceer(80, 1.1),
        "Italy": _ceer(37, 1.5),
        "Latvia": _ceer(104, 2.2),
        "Lithuania": _ceer(48, 0.6),
        "Poland": _ceer(180, 3.0),
        "Portugal": _ceer(64, 1.5),
        "Romania": _ceer(290, 3.8),
        "Spain": _ceer(54, 1.1),
        "Sweden": _ceer(69, 1.2),
        "United States": _eia(366.6, 1.348, "11.1 (IEEE)"),
        "New England": _eia(480.5, 1.398, "11.3"),
        "Maine": _eia(1863, 3.314, "11.3"),
    }
)
"""By region. Countries whose SAIFI is printed as 0.1 or 0.2 are left out: too coarse to divide by."""


def part_figures(kind: str) -> PartFigures:
    """Return the default figures for a kind of part; raise Refusal where there are none."""
    if kind not in PARTS:
        raise refuse(f"there are no failure figures for {kind!r}", f"There are for: {', '.join(PARTS)}.", name=kind)
    return PARTS[kind]


def mains_figures(region: str) -> MainsFigures:
    """Return the mains figures of a region; raise Refusal where there are none."""
    if region not in MAINS:
        raise refuse(
            f"there are no mains figures for {region!r}",
            f"Give SAIDI and SAIFI yourself, or choose from: {', '.join(MAINS)}.",
            name=region,
        )
    return MAINS[region]


def overridden(
    figures: PartFigures,
    *,
    failures_per_year: float | None = None,
    repair_h: float | None = None,
    source: str = "the plan",
) -> PartFigures:
    """Return the figures with what is given in the place of the default, marked as set for this home."""
    changes = {
        name: Figure(value, Mark.SET, source)
        for name, value in (("failures_per_year", failures_per_year), ("repair_h", repair_h))
        if value is not None
    }
    return replace(figures, **changes)


def part_unavailability(figures: PartFigures, noticed_after_h: float) -> float:
    """Return the share of the year in which such a part is down, failures noticed after ``noticed_after_h``.

    For a failure that supervision sees (a part that falls silent) that is the supervision time; for one that
    it cannot see, use ``rates.unavailability_between_tests`` with the interval of the walk tests.
    """
    per_h = figures.failures_per_year.value / HOURS_PER_YEAR
    return steady_unavailability(per_h, noticed_after_h + figures.repair_h.value)


def worst_mark(*figures: PartFigures | MainsFigures) -> Mark:
    """Return the mark of the least well founded number among these."""
    numbers = []
    for entry in figures:
        match entry:
            case PartFigures(failures_per_year, repair_h, unused_share):
                numbers += [failures_per_year, repair_h, *([unused_share] if unused_share else [])]
            case MainsFigures(saidi, saifi):
                numbers += [saidi, saifi]
    best_first = list(Mark)
    return max((number.mark for number in numbers), key=best_first.index)
