"""What one proof gave, for printing, answering, drawing and writing down."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from zoneinfo import ZoneInfo

import numpy as np

from stillwell.civiltime import Span
from stillwell.plan.model import Plan
from stillwell.proof import deadlines
from stillwell.proof.curve import NEVER
from stillwell.proof.prove import HazardResult, Proof
from stillwell.proof.story import Answers, Story, story
from stillwell.proof.witness import Scene, Witness, witness


@dataclass(frozen=True)
class Shown:
    """One hazard of a proof with everything that follows from it."""

    plan: Plan
    proof: Proof
    result: HazardResult

    @cached_property
    def limit(self) -> deadlines.Deadlines:
        """By when somebody must be told, at every onset."""
        return deadlines.deadlines(self.plan, self.result)

    @cached_property
    def late(self) -> Sequence[Span]:
        """The onsets from which somebody is told too late or never."""
        return deadlines.late(self.result, self.limit)

    @cached_property
    def never(self) -> Sequence[Span]:
        """The onsets from which nobody is ever told."""
        return deadlines.never(self.result, self.limit)

    @cached_property
    def worst(self) -> Sequence[Span]:
        """The stretches of onsets from all of which it takes longest."""
        return deadlines.worst(self.result, self.limit)

    @property
    def onset_ms(self) -> int:
        """The onset that is worst; where that is a limit, the millisecond after it."""
        case = self.result.worst
        return self.result.normal.worst_onset if case is None else case.onset_ms

    @property
    def deadline_ms(self) -> int:
        """The deadline that counts at the worst onset."""
        return int(self.limit.at(np.array([self.onset_ms], np.int64))[0])

    @cached_property
    def told_ms(self) -> int | None:
        """When somebody is told in the worst case; None: never."""
        told = int(self.result.told.at(np.array([self.onset_ms], np.int64))[0])
        return None if told == NEVER else told

    @cached_property
    def scene(self) -> Scene | None:
        """The worst case; None where no part of the plan could ever tell."""
        case = self.result.worst
        if case is None:
            return None
        ends = [one.fault.ends_ms for one in self.result.faults if one.fault.fresh_mains and case.onset.mains_off]
        ends_ms = min((one for one in ends if one is not None), default=None)
        return Scene(case.onset, case.world, case.onset_ms, self.result.alarms, ends_ms)

    @cached_property
    def witness(self) -> Witness | None:
        """A record of the worst case; None where there is no case, or none that a record can show."""
        return None if self.scene is None else witness(self.plan, self.proof.program, self.scene, self.told_ms)

    @cached_property
    def story(self) -> Story | None:
        """The worst case step by step."""
        if self.scene is None or self.witness is None:
            return None
        return story(self.plan, self.scene, self.witness)

    @property
    def answers(self) -> Answers | None:
        """Who answers and comes in the worst case; None where nobody is told."""
        return None if self.story is None else self.story.answers


@dataclass(frozen=True)
class Proved:
    """A plan, the name of its file, and the proof of it."""

    file: str
    plan: Plan
    proof: Proof

    @property
    def zone(self) -> ZoneInfo:
        """The zone of the home."""
        return self.proof.program.home.zone

    @cached_property
    def hazards(self) -> tuple[Shown, ...]:
        """Every hazard proved, in the plan's order."""
        return tuple(Shown(self.plan, self.proof, result) for result in self.proof.hazards)

    @property
    def falls_short(self) -> bool:
        """Whether a deadline is missed."""
        return any(shown.result.normal.share_within < 1 for shown in self.hazards)
