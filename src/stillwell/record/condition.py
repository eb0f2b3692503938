"""What a record holds and what ailed its parts, as values."""

from collections.abc import Collection
from dataclasses import dataclass

from stillwell.record.clockchange import ClockChange, clock_changes
from stillwell.record.columns import Gap, Record
from stillwell.record.gaps import NO_REPORT
from stillwell.record.parts import (
    Dead,
    PartCondition,
    QuietSpell,
    Replaced,
    WeakLink,
    condition_of,
    dead_parts,
    histories,
    quiet_spells,
    replaced_parts,
    weak_links,
)
from stillwell.record.presence import Empty, Run, presence
from stillwell.record.stuck import Stuck, stuck_levels


@dataclass(frozen=True, slots=True)
class Condition:
    """All that a record says about itself. A part that was replaced is not among the dead."""

    parts: tuple[PartCondition, ...]
    runs: tuple[Run, ...]
    empty: tuple[Empty, ...]
    no_report: tuple[Gap, ...]
    dead: tuple[Dead, ...]
    stuck: tuple[Stuck, ...]
    replaced: tuple[Replaced, ...]
    weak_links: tuple[WeakLink, ...]
    quiet: tuple[QuietSpell, ...]
    clock_changes: tuple[ClockChange, ...]


def condition(record: Record, signs_of_life: Collection[str] | None = None) -> Condition:
    """Read the condition of a home's parts, and of the record itself, from the record.

    ``signs_of_life`` names the signals that only somebody there can cause; else they are told by their names
    (``presence.LIFE_WORDS``). What counts as dead, stuck, empty and so on stands with each finding's thresholds.
    """
    there = presence(record, signs_of_life)
    parts = histories(record, there)
    replaced = replaced_parts(parts, record, there)
    gone = {each.old for each in replaced}
    dead = [each for each in dead_parts(parts, record, there) if each.part not in gone]
    return Condition(
        parts=tuple(condition_of(part) for part in parts),
        runs=there.runs,
        empty=there.empty,
        no_report=tuple(gap for gap in record.gaps if gap.reason == NO_REPORT),
        dead=tuple(dead),
        stuck=tuple(stuck_levels(record, {each.part for each in dead})),
        replaced=tuple(replaced),
        weak_links=tuple(weak_links(parts)),
        quiet=tuple(quiet_spells(parts)),
        clock_changes=tuple(clock_changes(record, there, signs_of_life)),
    )
