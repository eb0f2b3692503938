"""What the resident's things report: chairs and beds, plugs, lamps switched by hand, buttons."""

from collections.abc import Iterator
from typing import Final

import numpy as np

from stillwell.plan.model import Part
from stillwell.record.columns import TRUE, Pulses, Steps
from stillwell.simulate.habits import Phase
from stillwell.simulate.house import Use
from stillwell.simulate.life import Life
from stillwell.simulate.spans import level, spans_of

_SITTING_MS: Final = 600_000
_PRESSES_PER_DAY: Final = 1 / 30
"""Buttons are pressed to try them, or by mistake: an invented resident is well."""
_DARK_PHASES: Final = frozenset({Phase.EVENING, Phase.BEDTIME})
_WET_USES: Final = frozenset({Use.COOK, Use.WASH, Use.TOILET})
_SHORTLY_MS: Final = 60_000


def first_report_ms(life: Life, rng: np.random.Generator) -> int:
    """Draw when a part first says how it stands: within a minute of the start."""
    return life.agenda.span[0] + int(rng.integers(_SHORTLY_MS))


def seat_reports(room: str, life: Life, rng: np.random.Generator) -> Steps:
    """Report the level ``occupied``: a bed in a bedroom, elsewhere a chair for stays of ten minutes and more."""
    bed = life.house.uses[room] is Use.SLEEP
    pairs = (
        (stay.start_ms + int(rng.integers(15_000, 90_000)), stay.end_ms - int(rng.integers(5_000, 20_000)))
        for stay in life.stays_by_room[room]
        if (stay.asleep if bed else stay.end_ms - stay.start_ms >= _SITTING_MS)
    )
    return level(spans_of(pairs), first_report_ms(life, rng))


def outlet_reports(name: str, part: Part, room: str, life: Life, rng: np.random.Generator) -> dict[str, Steps]:
    """Report that an outlet is on, and the watts it gives to what is plugged in.

    What that is follows from the part's name and notes (kettle, pump, heater), else from the room's use.
    """
    words = f"{name} {part.notes}".lower()
    use = life.house.uses[room]
    if "pump" in words:
        running, watts = spans_of(_pumping(life, rng)), 720.0
    elif "heat" in words or "radiator" in words:
        running, watts = spans_of(_evenings(life, rng)), 1200.0
    elif use is Use.COOK or any(word in words for word in ("kettle", "coffee", "tea")):
        running, watts = spans_of(_boiling(room, life, rng)), 1900.0
    elif use in (Use.LIVE, Use.SLEEP):
        running, watts = spans_of(_sitting_up(room, life)), 65.0
    else:
        running, watts = spans_of(()), 0.0
    at = first_report_ms(life, rng)
    drawing = level(running, at)
    noise = rng.normal(1.0, 0.015, drawing.times.size)
    return {
        "on": Steps(np.array([at], np.int64), np.array([TRUE], np.int8)),
        "power": Steps(drawing.times, np.where(drawing.values == TRUE, np.round(watts * noise, 1), 0.0)),
    }


def lamp_reports(part: Part, room: str, life: Life, rng: np.random.Generator) -> Steps:
    """Report a lamp switched by hand: on in the evening when its room is first entered, off at the end."""
    lit = spans_of(_lit(room, life, rng) if part.manual else ())
    return level(lit, first_report_ms(life, rng))


def button_reports(name: str, part: Part, room: str, life: Life, rng: np.random.Generator) -> Pulses:
    """Report presses: now and then by somebody up and about, with a push button in its room.

    A push button whose name or notes say "away" or "holiday" is pressed on leaving for a holiday, and no other
    time; one that says "home" or "back", on the return.
    """
    words = f"{name} {part.notes}".lower()
    wearable = part.kind == "wearable call button"
    holidays = [each for each in life.resident.absences if each.phase is Phase.HOLIDAY]
    if not wearable and any(word in words for word in ("away", "holiday")):
        pressed = [each.start_ms - int(rng.integers(35_000, 50_000)) for each in holidays]
    elif not wearable and any(word in words for word in ("home", "back")):
        pressed = [each.end_ms + int(rng.integers(5_000, 15_000)) for each in holidays]
    else:
        stays = [stay for each in (life.house.uses if wearable else (room,)) for stay in life.awake_stays(each)]
        days = (life.agenda.span[1] - life.agenda.span[0]) / 86_400_000
        pressed = [
            int(rng.integers(stays[picked].start_ms, stays[picked].end_ms))
            for picked in rng.integers(0, max(len(stays), 1), rng.poisson(days * _PRESSES_PER_DAY) if stays else 0)
        ]
    return Pulses(np.unique(np.array(pressed, np.int64)))


def _boiling(room: str, life: Life, rng: np.random.Generator) -> Iterator[tuple[int, int]]:
    for stay in life.awake_stays(room):
        if rng.random() < 0.2:
            start = stay.start_ms + int(rng.integers(10_000, 60_000))
            yield start, start + int(rng.integers(110_000, 260_000))


def _pumping(life: Life, rng: np.random.Generator) -> Iterator[tuple[int, int]]:
    for room, use in life.house.uses.items():
        for stay in life.awake_stays(room) if use in _WET_USES else ():
            if rng.random() < 0.5:
                yield stay.end_ms, stay.end_ms + int(rng.integers(30_000, 110_000))


def _evenings(life: Life, rng: np.random.Generator) -> Iterator[tuple[int, int]]:
    for stretch in life.agenda.resident:
        if stretch.phase is Phase.EVENING:
            yield stretch.start_ms + int(rng.integers(_SHORTLY_MS)), stretch.end_ms


def _sitting_up(room: str, life: Life) -> Iterator[tuple[int, int]]:
    """Go through the evening stays, joined over the minutes spent elsewhere in between."""
    for stay in life.awake_stays(room):
        if stay.phase is Phase.EVENING:
            yield stay.start_ms + 20_000, stay.end_ms + 5 * _SHORTLY_MS


def _lit(room: str, life: Life, rng: np.random.Generator) -> Iterator[tuple[int, int]]:
    dark = [stretch for stretch in life.agenda.resident if stretch.phase in _DARK_PHASES]
    stays = sorted((stay.start_ms, stay.end_ms) for stay in life.awake_stays(room) if stay.phase in _DARK_PHASES)
    index = 0
    for stretch in dark:
        while index < len(stays) and stays[index][1] <= stretch.start_ms:
            index += 1
        first = index
        while index < len(stays) and stays[index][0] < stretch.end_ms:
            index += 1
        if first < index:
            yield stays[first][0] + int(rng.integers(1_000, 8_000)), stays[index - 1][1]
