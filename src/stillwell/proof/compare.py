"""What a changed plan makes worse or better, hazard by hazard: two proofs side by side."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import Final, Literal, TypeAlias

from stillwell.proof.claims.decide import ClaimResult
from stillwell.proof.corners import Choice
from stillwell.proof.curve import Summary
from stillwell.proof.faults import Fault
from stillwell.proof.results import HazardResult, Proof

What: TypeAlias = Literal[
    "gone", "new", "deadline", "worst", "in time", "clock changes", "set otherwise", "fault", "blind", "claim"
]

_NEVER: Final = float("inf")
_SAME_S: Final = 0.0005
"""Notice times are whole milliseconds; less than half of one is rounding."""
_SAME_SHARE: Final = 1e-9


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that differs.

    ``before`` and ``after`` are seconds (infinite: never), for "in time" shares of 1; for "deadline" that of the day
    or of the night, whichever differs. ``faults`` all make the same difference; ``claim`` is the text of one. "blind":
    how soon somebody is told of a fault itself.
    """

    what: What
    worse: bool
    hazard: str = ""
    before: float = 0.0
    after: float = 0.0
    faults: tuple[Fault, ...] = ()
    choice: Choice | None = None
    claim: str = ""


def compare(before: Proof, after: Proof) -> tuple[Difference, ...]:
    """Return how the proof of a changed plan differs from that of the running one, in the running plan's order.

    Faults and settings that only one of the two plans knows are not compared: there is nothing to compare them with.
    """
    old = {result.hazard.name: result for result in before.hazards}
    new = {result.hazard.name: result for result in after.hazards}
    found: list[Difference] = []
    for name, result in old.items():
        found += _hazard(result, new[name]) if name in new else [Difference("gone", worse=True, hazard=name)]
    found += [Difference("new", worse=False, hazard=name) for name in new if name not in old]
    return tuple(dict.fromkeys(_for_all(found)))


def compare_claims(before: Sequence[ClaimResult], after: Sequence[ClaimResult]) -> tuple[Difference, ...]:
    """Return the claims of what must never be that held and no longer do, or are no longer made; and the other way."""
    old, new = _holding(before), _holding(after)
    lost = [Difference("claim", worse=True, claim=claim) for claim in old if claim not in new]
    return (*lost, *(Difference("claim", worse=False, claim=claim) for claim in new if claim not in old))


def _for_all(found: Sequence[Difference]) -> Iterator[Difference]:
    """Yield the differences; how soon a broken part itself is told is the same for every hazard, and said once."""
    for one in found:
        yield replace(one, hazard="") if one.what == "blind" else one


def _holding(claims: Sequence[ClaimResult]) -> list[str]:
    """Return the claims that the rules keep; what people do by hand is not theirs to prevent."""
    return [one.claim.claim.text for one in claims if one.holds or one.by_hand]


def _hazard(before: HazardResult, after: HazardResult) -> Iterator[Difference]:
    name = before.hazard.name
    yield from _deadline(before, after)
    worst = list(_seconds("worst", name, before.normal, after.normal))
    yield from worst
    drop = before.normal.share_within - after.normal.share_within
    if not worst and abs(drop) > _SAME_SHARE:
        yield Difference("in time", drop > 0, name, before.normal.share_within, after.normal.share_within)
    if not worst:
        yield from _seconds("clock changes", name, _worst(before.clock_changes), _worst(after.clock_changes))
    for choice, summed in before.otherwise.items():
        if choice in after.otherwise:
            for one in _seconds("set otherwise", name, summed, after.otherwise[choice]):
                yield Difference(one.what, one.worse, name, one.before, one.after, choice=choice)
    yield from _faults(before, after)


def _deadline(before: HazardResult, after: HazardResult) -> Iterator[Difference]:
    old, new = before.hazard.deadline, after.hazard.deadline
    for was, now in ((old.day, new.day), (old.night, new.night)):
        if was != now:
            yield Difference("deadline", now > was, before.hazard.name, was / 1000, now / 1000)
            return


def _faults(before: HazardResult, after: HazardResult) -> Iterator[Difference]:
    new = {str(one.fault): one for one in after.faults}
    pairs = [(one, new[str(one.fault)]) for one in before.faults if str(one.fault) in new]
    slower = [(_s(one.summary.worst_s), _s(two.summary.worst_s), one.fault) for one, two in pairs]
    untold = [(_s(one.told_blind_s), _s(two.told_blind_s), one.fault) for one, two in pairs]
    # Where the ordinary worst case moves, most faults move with it: that is said once, above.
    moved = _s(before.normal.worst_s), _s(after.normal.worst_s)
    yield from _alike("fault", before.hazard.name, [one for one in slower if one[:2] != moved])
    yield from _alike("blind", before.hazard.name, untold)


def _alike(what: What, hazard: str, found: Sequence[tuple[float, float, Fault]]) -> Iterator[Difference]:
    moved = [one for one in found if _differ(one[0], one[1])]
    for (was, now), group in groupby(sorted(moved, key=lambda one: one[:2]), lambda one: one[:2]):
        yield Difference(what, now > was, hazard, was, now, tuple(fault for _, _, fault in group))


def _seconds(what: What, hazard: str, before: Summary | None, after: Summary | None) -> Iterator[Difference]:
    if before is None or after is None:
        return
    was, now = _s(before.worst_s), _s(after.worst_s)
    if _differ(was, now):
        yield Difference(what, now > was, hazard, was, now)


def _worst(summaries: Sequence[Summary]) -> Summary | None:
    return max(summaries, key=lambda one: _s(one.worst_s), default=None)


def _s(seconds: float | None) -> float:
    return _NEVER if seconds is None else seconds


def _differ(one: float, other: float) -> bool:
    return one != other and not abs(one - other) < _SAME_S
