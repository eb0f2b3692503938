"""From stays to what a movement detector reports."""

from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np

from stillwell.plan.model import Part
from stillwell.record.columns import Numbers, Pulses, Times
from stillwell.simulate.draws import long_tailed
from stillwell.simulate.life import Life
from stillwell.simulate.walk import Stay

STEPS_SEEN: Final = 0.85
STIRRING_SEEN: Final = 0.8
VIBRATION_FELT: Final = 0.05
"""Shares of movements that a detector notices. Invented: set by hand with the figures of ``habits``."""
GUSTS_PER_DAY: Final = 0.1
"""How often the wind shakes a door or window."""
STEPS_AFTER_MS: Final = 7_000.0
"""Median time from coming in until the detector sees it, and from being seen last until gone."""
DEFAULT_HOLD_MS: Final = 30_000
_TAIL_SHARE: Final = 0.1


class Motion(NamedTuple):
    """When somebody moves in a room, sorted: steps in and out, and stirring in between."""

    steps: Times
    stirring: Times


def stirrings(stays: Sequence[Stay], rng: np.random.Generator) -> Motion:
    """Draw when somebody moves during the stays of one room.

    Stirring is a renewal process whose gaps have the stay's median and
    spread and a Pareto tail; a person at rest moves rarely.
    """
    if not stays:
        return Motion(np.empty(0, np.int64), np.empty(0, np.int64))
    start = np.array([stay.start_ms for stay in stays], np.float64)
    end = np.array([stay.end_ms for stay in stays], np.float64)
    came = np.array([stay.came for stay in stays])
    crossed = np.array([stay.passing for stay in stays])
    length = end - start
    until_seen = np.minimum(long_tailed(rng, np.full(start.size, STEPS_AFTER_MS), 1.0), 0.4 * length)
    before_gone = np.minimum(long_tailed(rng, np.full(start.size, STEPS_AFTER_MS), 1.0), 0.4 * length)
    steps = np.concatenate([(start + until_seen)[came], (end - before_gone)[~crossed]])
    steps = np.sort(steps).astype(np.int64)
    return Motion(steps, _renewals(stays, start, end, rng))


def _renewals(stays: Sequence[Stay], start: Numbers, end: Numbers, rng: np.random.Generator) -> Times:
    median_ms = np.array([stay.still_s * 1000 for stay in stays])
    spread = np.array([stay.still_spread for stay in stays])
    at, drawn = start, []
    while at.size:
        at = at + long_tailed(rng, median_ms, spread, tail=_TAIL_SHARE)
        within = at < end
        at, end, median_ms, spread = at[within], end[within], median_ms[within], spread[within]
        drawn.append(at)
    return np.sort(np.concatenate(drawn)).astype(np.int64)


def movement_reports(motion: Motion, part: Part, rng: np.random.Generator) -> Pulses:
    """Report the pulses ``movement`` of a detector that misses a few of the movements in its room."""
    seen_steps = motion.steps[rng.random(motion.steps.size) < STEPS_SEEN]
    seen_stirring = motion.stirring[rng.random(motion.stirring.size) < STIRRING_SEEN]
    return Pulses(reported(np.union1d(seen_steps, seen_stirring), part))


def vibration_reports(motion: Motion, part: Part, life: Life, rng: np.random.Generator) -> Pulses:
    """Report the pulses ``vibration``: a door gone through, something touched in the room, a gust of wind."""
    span = life.agenda.span
    gusts = rng.poisson(GUSTS_PER_DAY * (span[1] - span[0]) / 86_400_000) if part.opening else 0
    passed = np.array([each.at_ms for each in life.passes(part.opening or "")], np.int64)
    touched = motion.stirring[rng.random(motion.stirring.size) < VIBRATION_FELT]
    return Pulses(reported(np.unique(np.r_[passed, touched, rng.integers(*span, gusts)]), part))


def reported(seen: Times, part: Part) -> Times:
    """Reduce what a detector sees to what it reports.

    After a report it is blind for ``blind``; the report stands for ``hold`` and each movement seen meanwhile makes
    it stand longer, which is a further report only with a part that sends every one.
    """
    hold_ms = DEFAULT_HOLD_MS if part.hold is None else part.hold
    blind_ms = part.blind or 0
    every = part.reports == "every report"
    times = []
    blind_until = stands_until = -(2**62)
    for at in seen.tolist():
        if at < blind_until:
            continue
        if every or at >= stands_until:
            times.append(at)
            blind_until = at + blind_ms
        stands_until = at + hold_ms
    return np.array(times, np.int64)
