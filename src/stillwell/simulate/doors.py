"""What contacts report: doors that people pass, windows opened for air, cupboards in rooms that are used."""

from collections.abc import Mapping
from typing import Final

import numpy as np

from stillwell.plan.model import Opening, Part, Plan
from stillwell.record.columns import Steps
from stillwell.simulate.draws import long_tailed
from stillwell.simulate.house import Use
from stillwell.simulate.life import Life
from stillwell.simulate.spans import Spans, joined, level, spans_of

_SHUT_BEHIND: Final = 0.4
"""Share of ways through an inner door that move it; else it stands as it was, which is shut in the record."""
_CUPBOARDS_PER_MIN: Final[Mapping[Use, float]] = {
    Use.COOK: 0.12,
    Use.WASH: 0.06,
    Use.SLEEP: 0.04,
    Use.LIVE: 0.01,
    Use.TOILET: 0.01,
    Use.PASS: 0.02,
    Use.OUTDOORS: 0.05,
    Use.OTHER: 0.05,
}
_BUSY_MIN: Final = 15.0
"""Whoever stays longer than that in a room has found what they were looking for."""
_AIRINGS: Final = 0.08
"""Share of daytime stays of five minutes and more in which a window is opened."""


def contact_reports(part: Part, room: str, plan: Plan, life: Life, rng: np.random.Generator) -> Steps:
    """Report the level ``open`` of a contact, first how it stands within a minute of the start."""
    opening = plan.openings.get(part.opening or "")
    if opening is None:
        spans = _cupboard(room, life, rng)
    elif opening.kind == "window":
        spans = _window(room, life, rng)
    else:
        spans = _door(part.opening or "", opening, life, rng)
    return level(spans, life.agenda.span[0] + int(rng.integers(60_000)))


def _door(name: str, opening: Opening, life: Life, rng: np.random.Generator) -> Spans:
    at = np.array(sorted(each.at_ms for each in life.passes(name)), np.int64)
    outer = any(room not in life.house.uses for room in opening.rooms)
    if not outer:
        at = at[rng.random(at.size) < _SHUT_BEHIND]
    stands_ms = np.clip(long_tailed(rng, np.full(at.size, 6_000.0), 0.5), 1_500, 1_800_000)
    return joined(np.column_stack([at, at + stands_ms.astype(np.int64)]))


def _cupboard(room: str, life: Life, rng: np.random.Generator) -> Spans:
    stays = list(life.awake_stays(room))
    start = np.array([stay.start_ms for stay in stays], np.float64)
    length = np.array([stay.end_ms - stay.start_ms for stay in stays], np.float64)
    uses = rng.poisson(np.minimum(length / 60_000, _BUSY_MIN) * _CUPBOARDS_PER_MIN[life.house.uses[room]])
    opened = np.repeat(start, uses) + rng.random(int(uses.sum())) * np.repeat(length, uses)
    stands_ms = np.clip(long_tailed(rng, np.full(opened.size, 7_000.0), 0.7), 1_000, 3_600_000)
    return joined(np.column_stack([opened, opened + stands_ms]).astype(np.int64))


def _window(room: str, life: Life, rng: np.random.Generator) -> Spans:
    pairs = []
    for stay in life.awake_stays(room):
        if stay.end_ms - stay.start_ms >= 300_000 and rng.random() < _AIRINGS:
            opened = stay.start_ms + int(rng.integers(30_000, 120_000))
            pairs.append((opened, opened + int(rng.uniform(8, 40) * 60_000)))
    return spans_of(pairs)
