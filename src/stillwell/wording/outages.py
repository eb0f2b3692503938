"""When parts were lost, and what lost them: a part whose hub is lost is lost with it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final
from zoneinfo import ZoneInfo

from stillwell.engine.outcome import Outcome
from stillwell.plan.model import Plan
from stillwell.record.columns import TRUE
from stillwell.wording.counting import counted, some, times
from stillwell.wording.durations import rounded
from stillwell.wording.instants import moment, stretch

_MOST_PARTS: Final = 4
_MOST_EACH: Final = 3


@dataclass(frozen=True, slots=True)
class Outage:
    """A part was lost from ``start_ms`` to ``end_ms``; ``with_it`` names parts that were lost behind it.

    ``to_the_end``: it was still lost at the end of the record.
    """

    part: str
    start_ms: int
    end_ms: int
    to_the_end: bool
    with_it: tuple[str, ...] = ()


def losses(outcome: Outcome, end_ms: int) -> list[Outage]:
    """Return every loss of every part, in order of time."""
    found = []
    for name, level in outcome.levels.items():
        part, _, word = name.rpartition(".")
        if word != "lost":
            continue
        ends = [*level.times[1:].tolist(), end_ms]
        for start, end, value in zip(level.times.tolist(), ends, level.values.tolist(), strict=True):
            if value == TRUE and start < end:
                found.append(Outage(part, start, end, end == end_ms))
    return sorted(found, key=lambda outage: (outage.start_ms, outage.part))


def outages(plan: Plan, outcome: Outcome, end_ms: int) -> list[Outage]:
    """Return the losses with those behind a lost hub gathered under the hub, in order of time."""
    every = losses(outcome, end_ms)
    names = {part.hub for part in plan.parts.values()}
    hubs = [loss for loss in every if loss.part in names]
    roots = [_root(plan, hubs, loss) for loss in every]
    behind: dict[int, set[str]] = {}
    for loss, root in zip(every, roots, strict=True):
        if root is not loss:
            behind.setdefault(id(root), set()).add(loss.part)
    return [
        replace(loss, with_it=tuple(sorted(behind.get(id(loss), ()))))
        for loss, root in zip(every, roots, strict=True)
        if root is loss
    ]


def outage_sentence(outage: Outage, zone: ZoneInfo) -> str:
    """Say an outage: "hill_hub was lost from ... to ..., and with it 22 parts: ..."."""
    text = f"{outage.part} was lost {stretch(zone, outage.start_ms, outage.end_ms)}"
    if outage.to_the_end:
        text = f"{outage.part} has been lost since {moment(zone, outage.start_ms)}, to the end of the record"
    if outage.with_it:
        text += f", and with it {counted(len(outage.with_it), 'part')}: {some(outage.with_it, _MOST_PARTS)}"
    return f"{text}."


def outage_sentences(found: Sequence[Outage], zone: ZoneInfo) -> Iterator[str]:
    """Say all outages in order of time; a part lost again and again has one sentence, where it was lost first."""
    by_part: dict[str, list[Outage]] = {}
    for outage in found:
        by_part.setdefault(outage.part, []).append(outage)
    for outage in found:
        every = by_part[outage.part]
        if len(every) <= _MOST_EACH:
            yield outage_sentence(outage, zone)
        elif outage is every[0]:
            lengths = [each.end_ms - each.start_ms for each in every]
            yield (
                f"{outage.part} was lost {times(len(every))} between {moment(zone, every[0].start_ms)} and "
                f"{moment(zone, every[-1].start_ms)}: {rounded(sum(lengths))} in all, up to {rounded(max(lengths))} "
                "at once."
            )


def _root(plan: Plan, hubs: list[Outage], loss: Outage) -> Outage:
    """Return the loss that brought this one down, through however many hubs; itself where none did."""
    while cause := next((hub for hub in hubs if _brings_down(plan, hub, loss)), None):
        loss = cause
    return loss


def _brings_down(plan: Plan, hub: Outage, loss: Outage) -> bool:
    """Whether a part fell silent because the hub (the last on its way) did: their silences overlap."""
    way = list(_hubs(plan, loss.part))
    if hub.part not in way:
        return False
    silent_from = loss.start_ms - _patience(plan, loss.part)
    return silent_from < hub.end_ms and hub.start_ms - _patience(plan, hub.part) < loss.end_ms


def _patience(plan: Plan, part: str) -> int:
    return plan.parts[part].supervision or 0


def _hubs(plan: Plan, part: str) -> Iterator[str]:
    hub = plan.parts[part].hub
    while hub is not None:
        yield hub
        hub = plan.parts[hub].hub
