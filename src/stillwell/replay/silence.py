"""If the resident had fallen silent at any instant of the record: how long until somebody would have been told?

Between two reports of the resident every onset has the same future, so one lane for each report decides all
instants. What is left of the record goes on: the calendar, the parts' heartbeats, everything the resident does not
cause.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from stillwell.civiltime import hour_edges
from stillwell.engine.axis import Axis
from stillwell.engine.columns import Columns, Reports
from stillwell.engine.lanes import Futures, standing
from stillwell.engine.program import Program, RuleNode, compile_plan
from stillwell.plan.kinds import CAUSED_BY_RESIDENT, SIGNALS_OF
from stillwell.plan.model import Plan
from stillwell.plan.names import base_signals_of_life
from stillwell.problem import refuse
from stillwell.record.columns import Record, Times
from stillwell.replay.chain import Chain
from stillwell.replay.distribution import NEVER_MS, Pieces, Spread, spread
from stillwell.replay.run import watched_spans

DAY_MS = 86_400_000
HORIZONS_MS = (2 * DAY_MS, 9 * DAY_MS, 40 * DAY_MS)
LANES_AT_ONCE = 20_000


@dataclass(frozen=True)
class Silence:
    """Notice time of silence that begins at any watched instant: over all, and by local hour of onset."""

    pieces: Pieces
    whole: Spread
    by_hour: tuple[Spread, ...]
    alarms: tuple[str, ...]


def silenced_by_collapse(plan: Plan) -> frozenset[str]:
    """Return the base signals that end when the resident lies still.

    They are what ``sign_of_life`` is made of, and what the resident causes by moving, pressing and opening.
    """
    caused = {
        f"{name}.{signal}"
        for name, part in plan.parts.items()
        if part.kind in CAUSED_BY_RESIDENT
        for signal in SIGNALS_OF[part.kind]
    }
    life = {name for name in base_signals_of_life(plan) if name.partition(".")[2] not in ("lost", "battery")}
    levels = {f"{name.partition('.')[0]}.open" for name in life if name.endswith((".opened", ".closed"))}
    return frozenset(caused | life | levels)


def collapse_alarms(plan: Plan, program: Program) -> tuple[RuleNode, ...]:
    """Return the alarms for hazards of the kind collapse. Raises Refusal where the plan has none."""
    hazards = {hazard.name for hazard in plan.hazard if hazard.kind == "collapse"}
    found = tuple(rule for rule in program.alarms if rule.hazard in hazards and not rule.of_part)
    if not found:
        raise refuse(
            "the plan has no alarm for a hazard of the kind collapse",
            'Add one: [[alarm]] with when = "no sign_of_life for 3h".',
        )
    return found


def silence_at_every_instant(plan: Plan, record: Record, progress: Callable[[float], None] | None = None) -> Silence:
    """Work out the notice time for silence beginning at any watched instant of the record.

    ``progress`` is told the share done, 0 to 1. Raises Refusal where the plan has no alarm for a collapse.
    """
    program = compile_plan(plan)
    alarms = collapse_alarms(plan, program)
    silenced = silenced_by_collapse(plan)
    base = Columns(program, Axis.of_span(*record.span), Reports.of_record(record))
    last_reports = _last_reports(record, silenced)
    chain = Chain(plan)
    found = []
    blocks = range(0, len(last_reports), LANES_AT_ONCE)
    ends = np.append(last_reports[1:], record.span[1])
    for number, block in enumerate(blocks):
        onsets, until = last_reports[block : block + LANES_AT_ONCE], ends[block : block + LANES_AT_ONCE]
        found += list(_decide(base, alarms, silenced, chain, onsets, until))
        if progress is not None:
            progress((number + 1) / len(blocks))
    rows = np.array([row[:3] for row in found], np.int64).reshape(-1, 3)
    stands = np.array([row[3] for row in found], bool)
    order = np.argsort(rows[:, 0], kind="stable")
    pieces = Pieces(rows[order, 0], rows[order, 1], rows[order, 2], stands[order]).within(watched_spans(record))
    hours = hour_edges(program.home.zone, record.span)
    return Silence(pieces, spread(pieces), tuple(_by_hour(pieces, hours)), tuple(rule.name for rule in alarms))


def _last_reports(record: Record, silenced: frozenset[str]) -> Times:
    """Return the distinct instants after which the future differs: the start, and each report of the resident."""
    start, end = record.span
    times = [record.signals[name].times for name in sorted(silenced) if name in record.signals]
    every = np.unique(np.concatenate([np.array([start], np.int64), *times]))
    return every[(every >= start) & (every < end)]


def _by_hour(pieces: Pieces, hours: list[tuple[int, int]]) -> Iterator[Spread]:
    edges = np.array([edge for edge, _ in hours], np.int64)
    names = np.array([hour for _, hour in hours])
    cut = pieces.cut(edges)
    of = names[np.maximum(np.searchsorted(edges, cut.start, "right") - 1, 0)]
    for hour in range(24):
        yield spread(cut.pick(of == hour))


_Row = tuple[int, int, int, bool]


def _decide(
    base: Columns,
    alarms: tuple[RuleNode, ...],
    silenced: frozenset[str],
    chain: Chain,
    onsets: Times,
    until: Times,
) -> Iterator[_Row]:
    """Yield pieces (start, end, told, standing) for onsets in [onsets, until), following each as far as it takes."""
    for horizon_ms in HORIZONS_MS:
        last = horizon_ms == HORIZONS_MS[-1]
        later = (until - onsets > horizon_ms // 2) & (not last)
        waiting = [(onsets[later], until[later])]
        onsets, until = onsets[~later], until[~later]
        if len(onsets):
            futures = Futures(base, _targets(alarms), silenced, horizon_ms + int((until - onsets).max()))
            raised, stands = _events(futures, alarms, onsets)
            undecided = np.zeros(len(onsets), bool)
            for lane, (onset, end) in enumerate(zip(onsets.tolist(), until.tolist(), strict=True)):
                rows = _pieces(raised.get(lane, []), stands.get(lane, []), chain, onset, end)
                # what is raised beyond the lane's end may still be told of sooner than this
                undecided[lane] = not last and any(row[2] > onset + futures.horizon_ms and not row[3] for row in rows)
                if not undecided[lane]:
                    yield from rows
            waiting.append((onsets[undecided], until[undecided]))
        onsets, until = (np.concatenate(part) for part in zip(*waiting, strict=True))
        if not len(onsets):
            return


def _targets(alarms: tuple[RuleNode, ...]) -> list[int]:
    return [node for rule in alarms for node in (rule.fires, rule.condition)]


def _events(
    futures: Futures, alarms: tuple[RuleNode, ...], onsets: Times
) -> tuple[dict[int, list[tuple[int, str]]], dict[int, list[tuple[int, int]]]]:
    """Return by lane: (time, call list) of each alarm raised after the onset, and the stretches alarms stand."""
    lanes = futures.after(onsets)
    raised: dict[int, list[tuple[int, str]]] = {}
    stands: dict[int, list[tuple[int, int]]] = {}
    for rule in alarms:
        of, times = lanes.real(lanes.columns.pulses(rule.fires).times)
        for lane, time in zip(of.tolist(), times.tolist(), strict=True):
            if time > onsets[lane]:
                raised.setdefault(lane, []).append((time, rule.call))
        starts, ends = standing(lanes.columns, rule.condition)
        of, starts = lanes.real(starts)
        ends = ends - lanes.shift[of]
        later = ends > onsets[of]
        for lane, begin, end in zip(of[later].tolist(), starts[later].tolist(), ends[later].tolist(), strict=True):
            stands.setdefault(lane, []).append((begin, end))
    return raised, stands


def _pieces(
    raised: list[tuple[int, str]], stands: list[tuple[int, int]], chain: Chain, onset: int, end: int
) -> list[_Row]:
    """Return the pieces of one lane: cut where an alarm is raised or stands within the lane's own onsets."""
    cuts = {onset, end}
    cuts |= {time for time, _ in raised if onset < time < end}
    cuts |= {edge for stretch in stands for edge in stretch if onset < edge < end}
    edges = sorted(cuts)
    rows = []
    for begin, stop in pairwise(edges):
        standing_now = any(a <= begin < b for a, b in stands)
        told = NEVER_MS if standing_now else _first_told(raised, chain, stop)
        rows.append((begin, stop, told, standing_now))
    return rows


def _first_told(raised: list[tuple[int, str]], chain: Chain, since: int) -> int:
    """Return when somebody is told of the alarms raised at ``since`` or later; the earliest counts."""
    told = NEVER_MS
    for time, call in sorted(raised):
        if time >= since and time < told:
            answer = chain.told_at(call, time)
            told = min(told, NEVER_MS if answer is None else answer)
    return told
