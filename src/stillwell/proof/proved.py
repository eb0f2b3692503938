"""What one proof gave, for printing, answering, drawing and writing down."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from zoneinfo import ZoneInfo

import numpy as np

from stillwell.civiltime import Span
from stillwell.plan.fault import Path
from stillwell.plan.model import Plan
from stillwell.plan.positions import Positions
from stillwell.proof import deadlines
from stillwell.proof.claims.decide import ClaimResult, decide_claims
from stillwell.proof.curve import NEVER
from stillwell.proof.findings.find import find
from stillwell.proof.findings.finding import Finding
from stillwell.proof.helps.find import Helps, what_would_help
from stillwell.proof.results import HazardResult, Proof
from stillwell.proof.share.protected import HomeShare, home_share
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
    def missed(self) -> bool:
        """Whether the deadline is missed, in an ordinary week or in one in which the clocks change."""
        return any(one.share_within < 1 for one in (self.result.normal, *self.result.clock_changes))

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
    """A plan, the name and the text of its file, and the proof of it."""

    file: str
    text: str
    plan: Plan
    proof: Proof
    helps: dict[str, Helps] = field(default_factory=dict)
    """What would help, by hazard, where it has been looked for."""

    @property
    def zone(self) -> ZoneInfo:
        """The zone of the home."""
        return self.proof.program.home.zone

    @cached_property
    def hazards(self) -> tuple[Shown, ...]:
        """Every hazard proved, in the plan's order."""
        return tuple(Shown(self.plan, self.proof, result) for result in self.proof.hazards)

    @cached_property
    def claims(self) -> tuple[ClaimResult, ...]:
        """What must never be, decided."""
        return decide_claims(self.plan, self.proof.program, self.proof.year)

    @cached_property
    def findings(self) -> tuple[Finding, ...]:
        """What is wrong or weak, the gravest first."""
        return find(self.proof, self.claims)

    @cached_property
    def share(self) -> HomeShare:
        """The protected share of the year."""
        return home_share(self.proof)

    def look_for_help(self, hazard: str) -> None:
        """Look for the smallest changes that meet the deadline of a hazard."""
        self.helps[hazard] = what_would_help(self.text, self.proof.year, hazard, file=self.file)

    def place(self, path: Path) -> tuple[int, int]:
        """Return line and column of a place in the plan's file."""
        return self._positions.place(path)

    @cached_property
    def _positions(self) -> Positions:
        return Positions(self.text)

    @property
    def falls_short(self) -> bool:
        """Whether a deadline is missed, or the rules break what must never be."""
        late = any(shown.missed for shown in self.hazards)
        return late or any(claim.holds is False and not claim.by_hand for claim in self.claims)
