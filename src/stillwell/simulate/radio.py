"""From what parts say to what arrives: heartbeats, batteries, lost telegrams, dead parts and hubs."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from stillwell.civiltime import Span
from stillwell.plan.model import Part, Plan
from stillwell.problem import refuse
from stillwell.record.columns import Column, Pulses, Steps, Times
from stillwell.simulate.draws import stream
from stillwell.simulate.spans import Spans, clipped, contains, spans_of

_HOUR_MS: Final = 3_600_000
_DAY_MS: Final = 24 * _HOUR_MS
HEARTBEAT_JITTER: Final = 0.02
"""A heartbeat comes up to this share of its interval early or late."""
_CLOCK_ERROR: Final = 0.002
_FADING_DAYS: Final = 20
_LATE_S: Final = (20, 900)
_DOUBLED_MS: Final = (40, 400)


@dataclass(frozen=True, slots=True)
class Faults:
    """What goes wrong. Shares are of telegrams.

    One part dies for good: ``dying_part``, or else a movement detector drawn by the seed, at ``dies_at`` (a share of
    the span), or else somewhere in its last quarter. One radio hub is down once, for a time within ``outage_h``.
    """

    dies: bool = True
    dying_part: str | None = None
    dies_at: float | None = None
    outage: bool = True
    outage_h: tuple[float, float] = (2.0, 9.0)
    lost_share: float = 0.003
    doubled_share: float = 0.001
    late_share: float = 0.0005


NO_FAULTS: Final = Faults(dies=False, outage=False, lost_share=0, doubled_share=0, late_share=0)
USUAL_FAULTS: Final = Faults()


@dataclass(frozen=True, slots=True)
class Breakdowns:
    """Which part is dead from when on, and when which hub is down."""

    dead_since_ms: Mapping[str, int]
    hub_down: Mapping[str, Spans]


def draw_breakdowns(plan: Plan, span: Span, faults: Faults, seed: int) -> Breakdowns:
    """Draw what breaks and when. Refused where the plan has no part of the name that is to die."""
    rng = stream(seed, "breakdowns")
    length_ms = span[1] - span[0]
    detectors = [name for name, part in plan.parts.items() if part.kind == "movement"]
    drawn = detectors[int(rng.integers(len(detectors)))] if detectors else None
    at = rng.uniform(0.78, 0.95) if faults.dies_at is None else faults.dies_at
    dying = drawn if faults.dying_part is None else faults.dying_part
    if dying is not None and dying not in plan.parts:
        raise refuse(f'no part "{dying}"', f"one of {', '.join(plan.parts)}", name="dying part")
    dead = {dying: span[0] + int(at * length_ms)} if faults.dies and dying else {}
    hubs = [name for name, part in plan.parts.items() if part.kind == "radio hub"]
    down_from = span[0] + int(rng.uniform(0.25, 0.7) * length_ms)
    down_ms = int(rng.uniform(*faults.outage_h) * _HOUR_MS)
    down = clipped(spans_of([(down_from, down_from + down_ms)]), *span)
    return Breakdowns(dead, {hubs[int(rng.integers(len(hubs)))]: down} if faults.outage and hubs else {})


def heartbeats(part: Part, span: Span, rng: np.random.Generator) -> Times:
    """Give the instants at which a part says that it is there; none without a heartbeat.

    Its clock runs a little fast or slow, and each beat comes up to 2 % of the interval early or late.
    """
    if not part.heartbeat:
        return np.empty(0, np.int64)
    interval = part.heartbeat * (1 + rng.uniform(-_CLOCK_ERROR, _CLOCK_ERROR))
    even = np.arange(span[0] + rng.uniform(0, interval), span[1], interval)
    jittered = even + rng.uniform(-HEARTBEAT_JITTER, HEARTBEAT_JITTER, even.size) * part.heartbeat
    return np.unique(jittered.clip(span[0], span[1] - 1).astype(np.int64))


def battery_reports(span: Span, dies_ms: int | None, rng: np.random.Generator) -> Steps:
    """Give daily battery reports in whole per cent.

    The battery falls by a few hundredths a day; before a part dies of it, down to a few per cent within twenty days.
    """
    first, slope, low = rng.uniform(55, 100), rng.uniform(0.02, 0.12), rng.uniform(3, 8)
    even = np.arange(span[0] + rng.uniform(0, _DAY_MS), span[1], _DAY_MS)
    times = (even + rng.uniform(-600_000, 600_000, even.size)).clip(span[0], span[1] - 1).astype(np.int64)
    percent = first - slope * (times - span[0]) / _DAY_MS
    if dies_ms is not None:
        fading_from = max(span[0], dies_ms - _FADING_DAYS * _DAY_MS)
        faded = np.clip((times - fading_from) / max(1, dies_ms - fading_from), 0, 1)
        percent -= faded * (percent - low)
    return Steps(times, np.round(np.clip(percent, 1, 100)).astype(np.float64))


@dataclass(slots=True)
class Radio:
    """Carries telegrams and counts what happens to them on the way."""

    plan: Plan
    span: Span
    faults: Faults
    breakdowns: Breakdowns
    seed: int
    lost: int = 0
    doubled: int = 0
    late: int = 0

    def arrives(self, name: str, signal: str, column: Column) -> Column:
        """Let the reports of a part's signal arrive, or not: dead part, hub down, lost, doubled or late."""
        rng = stream(self.seed, "radio", name, signal)
        times = column.times
        kept = (times >= self.span[0]) & (times < self.span[1]) & self._alive(name, times)
        lost = kept & (rng.random(times.size) < self.faults.lost_share)
        order, arrival = self._delayed(name, times, np.flatnonzero(kept & ~lost), rng)
        self.lost += int(lost.sum())
        if isinstance(column, Pulses):
            return Pulses(np.unique(arrival))
        # of two reports in one millisecond the later one counts
        last = np.r_[np.diff(arrival) > 0, np.ones(min(1, arrival.size), bool)]
        return Steps(arrival[last], column.values[order][last])

    def _alive(self, name: str, times: Times) -> NDArray[np.bool_]:
        alive: NDArray[np.bool_] = times < self.breakdowns.dead_since_ms.get(name, self.span[1])
        for hub, down in self.breakdowns.hub_down.items():
            if name == hub or self.plan.parts[name].hub == hub:
                alive &= ~contains(down, times)
        return alive

    def _delayed(self, name: str, times: Times, sent: Times, rng: np.random.Generator) -> tuple[Times, Times]:
        """Delay some telegrams and double some; give which were sent, by time of arrival, and that time."""
        late = rng.random(sent.size) < self.faults.late_share
        doubled = rng.random(sent.size) < self.faults.doubled_share
        delay = (rng.uniform(*_LATE_S, sent.size) * 1000).astype(np.int64) * late
        again = rng.integers(*_DOUBLED_MS, sent.size)
        which = np.r_[sent, sent[doubled]]
        arrival = np.r_[times[sent] + delay, (times[sent] + delay + again)[doubled]]
        arrived = (arrival < self.span[1]) & self._alive(name, arrival)
        which, arrival = which[arrived], arrival[arrived]
        order = np.argsort(arrival, kind="stable")
        self.late += int(late.sum())
        self.doubled += int(doubled.sum())
        return which[order], arrival[order]
