"""The days of the resident and of visitors as stretches of time, in local civil time.

One person differs from another (effects drawn once), one day from the next (effects drawn daily), and the weeks
drift: the pace follows a slow random walk, so that a routine learned in spring is a little off in summer.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final, NamedTuple
from zoneinfo import ZoneInfo

import numpy as np

from stillwell.civiltime import Span, local_instant
from stillwell.simulate.draws import long_tailed
from stillwell.simulate.habits import AWAY, Phase

HOLIDAY_FROM_DAYS: Final = 40
OVERNIGHT_FROM_DAYS: Final = 14
_MINUTE_MS: Final = 60_000
_DAY_MINUTES: Final = 1440
_APART_MS: Final = 600_000
"""A caller is gone before the resident goes out, and the other way round."""


class Stretch(NamedTuple):
    """``pace`` is 1 on an ordinary day; above it, stays are shorter and movements closer together."""

    start_ms: int
    end_ms: int
    phase: Phase
    pace: float


@dataclass(frozen=True, slots=True)
class Agenda:
    """What the resident does over ``span`` and what each visitor does, in time order and without overlap."""

    span: Span
    resident: tuple[Stretch, ...]
    visits: tuple[tuple[Stretch, ...], ...]
    holiday: tuple[Span, ...]


@dataclass(frozen=True, slots=True)
class Person:
    """What one resident keeps to: rising and going to bed (minutes after midnight), pace (1: ordinary), the chance of
    a nap, of a morning's outing (in the afternoon half of it), how long outings last (median in minutes, standard
    deviation of the logarithm) and the share of them that last most of the day, the pace of nights (above 1: lighter
    sleep, more walks) and by how much one day's pace differs from another's (standard deviation of the logarithm)."""

    rise_min: float
    bed_min: float
    pace: float
    nap_share: float
    outing_share: float
    outing_min: float = 70.0
    outing_spread: float = 0.55
    long_share: float = 1 / 16
    night_pace: float = 1.0
    day_spread: float = 0.22


def usual_person(rng: np.random.Generator) -> Person:
    """Draw a resident like others."""
    return Person(
        rise_min=rng.normal(440, 25),
        bed_min=rng.normal(1370, 25),
        pace=float(np.exp(rng.normal(0, 0.06))),
        nap_share=rng.uniform(0.5, 0.8),
        outing_share=rng.uniform(0.5, 0.8),
    )


def agenda_of(zone: ZoneInfo, start: date, days: int, rng: np.random.Generator, person: Person | None = None) -> Agenda:
    """Draw what fills ``days`` local days from ``start`` on, without a hole; a usual person's where none is given.

    From 14 days on one visitor stays overnight; from 40 days on the resident is once away for two nights.
    """
    person = person or usual_person(rng)
    dates = [start + timedelta(days=index) for index in range(days)]
    span = (local_instant(zone, start, 0, "start"), local_instant(zone, start + timedelta(days), 0, "start"))
    ordinary = _ordinary(zone, dates, person, rng)
    holiday = _holiday(zone, dates, rng)
    visits = [visit for visit in _visits(zone, dates, rng) if not _touches(visit, holiday)]
    taken = [(come - _APART_MS, go + _APART_MS) for come, go in (*visits, *holiday)]
    outings = [outing for outing in _outings(zone, dates, person, rng) if not _touches(outing, taken)]
    laid = sorted(
        [(*span, Phase.OUT) for span in outings]
        + [(*span, Phase.VISIT) for span in visits]
        + [(*span, Phase.HOLIDAY) for span in holiday]
    )
    guests = (overlaid(_guest(ordinary, visit), [(*visit, Phase.GUEST)]) for visit in visits)
    return Agenda(
        span,
        tuple(_clipped(_merged(overlaid(ordinary, laid)), span)),
        tuple(tuple(_clipped(guest, span)) for guest in guests),
        tuple((max(away[0], span[0]), min(away[1], span[1])) for away in holiday),
    )


def _instant(zone: ZoneInfo, day: date, minute: float) -> int:
    """Give the instant of a wall-clock minute, counted from local midnight and allowed to run past the next."""
    later, of_day = divmod(round(minute), _DAY_MINUTES)
    return local_instant(zone, day + timedelta(days=later), of_day, "start")


def _ordinary(zone: ZoneInfo, dates: list[date], person: Person, rng: np.random.Generator) -> list[Stretch]:
    """Fill the days with an ordinary routine; the night before the first day is included."""
    drift = np.cumsum(rng.normal(0, 0.01, len(dates)))
    pace = person.pace * np.exp(drift + rng.normal(0, person.day_spread, len(dates)))
    marks: list[tuple[int, Phase, float]] = [
        (_instant(zone, dates[0] - timedelta(days=1), person.bed_min), Phase.NIGHT, float(pace[0]))
    ]
    for day, own in zip(dates, pace.tolist(), strict=True):
        marks += [(_instant(zone, day, minute), phase, own) for minute, phase in _routine(person, rng)]
    last = _instant(zone, dates[-1] + timedelta(days=1), person.rise_min)
    ends = [mark[0] for mark in marks[1:]] + [max(last, marks[-1][0])]
    return [
        Stretch(at, end, phase, own * person.night_pace if phase is Phase.NIGHT else own)
        for (at, phase, own), end in zip(marks, ends, strict=True)
        if at < end
    ]


def _routine(person: Person, rng: np.random.Generator) -> Iterator[tuple[float, Phase]]:
    """Draw one day: the minute at which each part of it begins, in order."""
    rise = float(np.clip(person.rise_min + rng.normal(0, 25), 300, 570))
    breakfast = rise + rng.uniform(20, 45)
    lunch = max(rng.normal(735, 18), breakfast + 90)
    rest = lunch + rng.uniform(30, 60)
    nap = float(np.clip(long_tailed(rng, 75, 0.45), 20, 170)) if rng.random() < person.nap_share else 0.0
    supper = max(rng.normal(1080, 20), rest + nap + 30)
    bed = float(np.clip(person.bed_min + rng.normal(0, 35), supper + 120, 1530))
    yield rise, Phase.MORNING
    yield breakfast, Phase.BREAKFAST
    yield breakfast + rng.uniform(30, 50), Phase.FORENOON
    yield lunch, Phase.LUNCH
    if nap:
        yield rest, Phase.REST
    yield rest + nap, Phase.AFTERNOON
    yield supper, Phase.SUPPER
    yield supper + rng.uniform(35, 60), Phase.EVENING
    yield bed - rng.uniform(12, 25), Phase.BEDTIME
    yield bed, Phase.NIGHT


def _outings(zone: ZoneInfo, dates: list[date], person: Person, rng: np.random.Generator) -> Iterator[Span]:
    """Draw shopping, walks and the like; some last most of the day."""
    for day in dates:
        back = 0.0
        for usual, share in ((605, person.outing_share), (930, person.outing_share / 2)):
            if rng.random() >= share:
                continue
            long = rng.random() < person.long_share
            usual_min = long_tailed(rng, person.outing_min, person.outing_spread) if not long else None
            lasts = rng.uniform(240, 450) if usual_min is None else float(np.clip(usual_min, 10, 240))
            leave = rng.normal(usual, 35)
            if leave > back + 30:
                back = min(leave + lasts, 1200)
                if back > leave:
                    yield _instant(zone, day, leave), _instant(zone, day, back)


def _visits(zone: ZoneInfo, dates: list[date], rng: np.random.Generator) -> Iterator[Span]:
    """Draw callers, more of them at weekends, and one who stays overnight."""
    overnight = int(rng.integers(2, len(dates) - 1)) if len(dates) >= OVERNIGHT_FROM_DAYS else -2
    for index, day in enumerate(dates):
        if index == overnight:
            yield _instant(zone, day, rng.normal(990, 30)), _instant(zone, day, 1440 + rng.normal(640, 30))
        elif index != overnight + 1 and rng.random() < (0.3 if day.weekday() >= 5 else 0.13):
            come = rng.normal(885, 50)
            stay = float(np.clip(long_tailed(rng, 80, 0.5), 20, 200))
            yield _instant(zone, day, come), _instant(zone, day, come + stay)


def _holiday(zone: ZoneInfo, dates: list[date], rng: np.random.Generator) -> list[Span]:
    if len(dates) < HOLIDAY_FROM_DAYS:
        return []
    first = int(rng.integers(round(len(dates) * 0.35), round(len(dates) * 0.65)))
    leave = _instant(zone, dates[first], rng.normal(600, 20))
    return [(leave, _instant(zone, dates[first + 2], rng.normal(990, 40)))]


def _touches(span: Span, others: Iterable[Span]) -> bool:
    return any(span[0] < end and start < span[1] for start, end in others)


def _guest(ordinary: list[Stretch], visit: Span) -> list[Stretch]:
    """Let the guest sleep while the resident does, and otherwise be a guest."""
    return [
        stretch._replace(phase=Phase.GUEST_NIGHT if stretch.phase is Phase.NIGHT else Phase.GUEST)
        for stretch in _clipped(ordinary, visit)
    ]


_UNDISTURBED: Final = frozenset({Phase.NIGHT, Phase.BEDTIME, Phase.GUEST_NIGHT})
"""What goes on although somebody visits."""


def overlaid(stretches: list[Stretch], laid: list[tuple[int, int, Phase]]) -> Iterator[Stretch]:
    """Lay sorted, disjoint spans of another phase over the stretches."""
    first = 0
    for stretch in stretches:
        at = stretch.start_ms
        while first < len(laid) and laid[first][1] <= at:
            first += 1
        for start, end, phase in laid[first:]:
            if start >= stretch.end_ms:
                break
            if stretch.phase in _UNDISTURBED and phase not in AWAY:
                continue
            if start > at:
                yield stretch._replace(start_ms=at, end_ms=start)
            yield stretch._replace(start_ms=max(start, at), end_ms=min(end, stretch.end_ms), phase=phase)
            at = min(end, stretch.end_ms)
        if at < stretch.end_ms:
            yield stretch._replace(start_ms=at)


def _merged(stretches: Iterable[Stretch]) -> Iterator[Stretch]:
    """Make one absence of several that follow each other at once."""
    before: Stretch | None = None
    for stretch in stretches:
        if before is None:
            before = stretch
        elif stretch.phase in AWAY and stretch.phase is before.phase:
            before = before._replace(end_ms=stretch.end_ms)
        else:
            yield before
            before = stretch
    if before is not None:
        yield before


def _clipped(stretches: Iterable[Stretch], span: Span) -> Iterator[Stretch]:
    for stretch in stretches:
        start, end = max(stretch.start_ms, span[0]), min(stretch.end_ms, span[1])
        if start < end:
            yield stretch._replace(start_ms=start, end_ms=end)
