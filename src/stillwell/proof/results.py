"""What the proof of a plan says: its values, worked out by ``prove``."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeAlias

from stillwell.civiltime import Span
from stillwell.engine.program import Program
from stillwell.plan.model import Hazard, Plan
from stillwell.proof.catalogue import Onset
from stillwell.proof.corners import Choice
from stillwell.proof.curve import Curve, Summary
from stillwell.proof.faults import Fault
from stillwell.proof.world import World

Raised: TypeAlias = tuple[tuple[str, Curve], ...]
"""One world: for each alarm its call list, and when it is raised."""


@dataclass(frozen=True)
class FaultResult:
    """One fault: the worst notice time then (None: never), and when somebody is told of the fault itself."""

    fault: Fault
    curve: Curve
    summary: Summary
    told_blind_s: float | None
    raised: tuple[Raised, ...] = ()


@dataclass(frozen=True)
class PairResult:
    """Two faults of parts at once, and when the alarms are raised then."""

    faults: tuple[Fault, Fault]
    raised: tuple[Raised, ...]


@dataclass(frozen=True)
class Case:
    """The worst way a hazard may go: the world, the onset, and the alarm that then tells."""

    onset: Onset
    world: World
    onset_ms: int
    alarm: str | None


@dataclass(frozen=True)
class HazardResult:
    """The proof of one hazard over an ordinary week (a whole year where the sun decides), and the clock-change weeks.

    ``raised`` and ``told`` are curves over the ordinary span; ``otherwise`` holds, for other settings a person may
    have left the home in, the worst then. ``pairs`` are worked out on request only, and only those that may be worse
    than either fault alone. ``unsettled`` names rules whose timers of the past may make it worse than any history
    looked at; with none the proof is exact.
    """

    hazard: Hazard
    alarms: tuple[str, ...]
    choice: Choice
    told: Curve
    normal: Summary
    clock_changes: tuple[Summary, ...]
    faults: tuple[FaultResult, ...]
    otherwise: Mapping[Choice, Summary]
    worst: Case | None
    raised: tuple[Raised, ...] = ()
    pairs: tuple[PairResult, ...] = ()
    unsettled: tuple[str, ...] = ()


@dataclass(frozen=True)
class Proof:
    """The proof of a plan for one year."""

    plan: Plan
    program: Program
    year: int
    span: Span
    hazards: tuple[HazardResult, ...]
