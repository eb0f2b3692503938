"""What the proof of the faults says: what one broken thing, or one person who cannot be reached, brings down."""

from collections.abc import Iterator, Sequence

from stillwell.plan.model import Plan
from stillwell.proof.findings.finding import Finding, finding, listed, quoted
from stillwell.proof.findings.hazards import place
from stillwell.proof.findings.spans import at_most
from stillwell.proof.results import FaultResult, HazardResult, Proof


def hanging_on_one_part(proof: Proof) -> Iterator[Finding]:
    """Yield the parts whose loss alone makes a hazard go unnoticed: each that nobody hears of, the others together.

    Without the controller nothing works; that is for the keeper outside to notice.
    """
    lost: dict[str, list[tuple[HazardResult, FaultResult]]] = {}
    for result in _noticed(proof):
        for one in result.faults:
            lost_part = proof.plan.parts.get(one.fault.subject)
            counts = lost_part is not None and lost_part.kind != "controller"
            if one.fault.kind == "lost" and counts and _is_worse(result, one):
                lost.setdefault(one.fault.subject, []).append((result, one))
    told = {part: found for part, found in lost.items() if found[0][1].told_blind_s is not None}
    for part, found in lost.items():
        if part not in told:
            yield _untold(proof.plan, part, [result.hazard.name for result, _ in found])
    if told:
        yield _told(proof.plan, told)


def _untold(plan: Plan, part: str, hazards: Sequence[str]) -> Finding:
    text = f"If {part} fails, {quoted(hazards)} may never be noticed, and nobody is told that {part} has failed."
    remedy = "Give it a supervision time and write [upkeep], so that its loss is told; better, fit a second one."
    return finding(plan, "hangs-on-one-part", ("parts", part), "danger", text, remedy)


def _told(plan: Plan, found: dict[str, list[tuple[HazardResult, FaultResult]]]) -> Finding:
    by_hazards: dict[tuple[str, ...], list[str]] = {}
    for part, those in found.items():
        by_hazards.setdefault(tuple(result.hazard.name for result, _ in those), []).append(part)
    said = [
        f"{listed(parts)} ({quoted(hazards) if len(hazards) < 4 else f'{len(hazards)} hazards'})"
        for hazards, parts in by_hazards.items()
    ]
    longest = max(one.told_blind_s or 0.0 for those in found.values() for _, one in those)
    text = (
        f"These hazards hang on one part each: {'; '.join(said)}. That such a part is lost is told within "
        f"{at_most(longest * 1000)}; one that is there and senses nothing tells nobody."
    )
    remedy = "Try each one as often as its maker says; where it matters most, fit a second one."
    return finding(plan, "hangs-on-one-part", ("parts", next(iter(found))), "note", text, remedy)


def silencing_when_stuck(proof: Proof) -> Iterator[Finding]:
    """Yield each hazard that a part which keeps reporting one thing hides, though its loss would not."""
    for result in _noticed(proof):
        lost = {one.fault.subject for one in result.faults if one.fault.kind == "lost" and _is_worse(result, one)}
        stuck = [one.fault.subject for one in result.faults if one.fault.kind == "stuck" and _is_worse(result, one)]
        parts = [part for part in stuck if part not in lost]
        if parts:
            any_of = f"Any one of {listed(parts, joined_by='or')}" if len(parts) > 1 else parts[0]
            text = (
                f'{any_of} hides "{result.hazard.name}" if it is stuck and goes on reporting: no alarm for it is ever '
                "raised, and nobody is told, since a part that reports does not count as lost."
            )
            remedy = (
                "Add an alarm that a single part cannot hold off, such as one limit for each room, or one for a part "
                "that reports far too often."
            )
            yield finding(proof.plan, "stuck-part-silences", place(proof.plan, result.hazard), "warning", text, remedy)


def hanging_on_one_person(proof: Proof) -> Iterator[Finding]:
    """Yield each person without whom nobody hears of a hazard."""
    for person, hazards in _by_subject(proof, "unreachable").items():
        text = f"If {person} cannot be reached, nobody may ever hear of {quoted(hazards)}."
        remedy = "Put one more person on the call list, by another step or beside them."
        yield finding(proof.plan, "hangs-on-one-person", ("people", person), "warning", text, remedy)


def one_way_out(proof: Proof) -> Iterator[Finding]:
    """Yield each way out of the house without which nobody hears of a hazard."""
    every = len(list(_noticed(proof)))
    for way, hazards in _by_subject(proof, "out").items():
        what = "any hazard" if len(hazards) == every else quoted(hazards)
        text = f"Everything that would tell somebody of {what} goes by one way: when the {way} is out, nobody hears."
        remedy = "Add a second way, such as a mobile modem, list it under [ways_out], and give people a channel on it."
        if proof.plan.ways_out:
            yield finding(proof.plan, "one-way-out", ("ways_out", way), "warning", text, remedy)
        else:
            yield finding(proof.plan, "one-way-out", ("calls",), "warning", text, remedy)


def _by_subject(proof: Proof, kind: str) -> dict[str, list[str]]:
    """Return the hazards that each fault of a kind makes go unnoticed."""
    found: dict[str, list[str]] = {}
    for result in _noticed(proof):
        for one in result.faults:
            if one.fault.kind == kind and _is_worse(result, one):
                found.setdefault(one.fault.subject, []).append(result.hazard.name)
    return found


def _noticed(proof: Proof) -> Iterator[HazardResult]:
    """Yield the hazards that are noticed at least at times."""
    return (one for one in proof.hazards if one.worst is not None and one.normal.share_never < 1)


def _is_worse(result: HazardResult, one: FaultResult) -> bool:
    return one.summary.share_never > result.normal.share_never + 1e-9
