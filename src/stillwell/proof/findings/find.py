"""Everything that a proof and its plan show to be wrong or weak."""

from collections.abc import Iterator, Sequence

from stillwell.plan.model import Plan
from stillwell.proof.claims.decide import ClaimResult, almanac, decide_claims
from stillwell.proof.claims.witness import Witness
from stillwell.proof.findings import broken, fights, hazards, limits, parts, people, rules
from stillwell.proof.findings.finding import Finding, finding, in_order, listed
from stillwell.proof.findings.spans import at_most
from stillwell.proof.results import Proof


def find(proof: Proof, claims: Sequence[ClaimResult] | None = None) -> tuple[Finding, ...]:
    """Return every finding, the gravest first. ``claims`` are the plan's, where they have been decided already."""
    plan, clock = proof.plan, almanac(proof.program, proof.year)
    if claims is None:
        claims = decide_claims(plan, proof.program, proof.year)
    return in_order(
        [
            *hazards.hazards_without_alarm(plan),
            *hazards.noticed_too_late(proof),
            *hazards.must_be_remembered(proof),
            *broken.hanging_on_one_part(proof),
            *broken.silencing_when_stuck(proof),
            *broken.hanging_on_one_person(proof),
            *broken.one_way_out(proof),
            *people.nobody_reachable(proof),
            *people.nobody_can_come(plan),
            *limits.limits_too_long(plan),
            *limits.rows_that_never_fit(plan),
            *rules.rules_that_cannot_fire(plan, clock),
            *rules.aids_that_imitate_life(plan),
            *rules.lamps_without_switch(plan),
            *fights.rules_that_fight(plan, clock),
            *fights.orders_cut_short(plan, clock),
            *parts.losses_told_to_nobody(plan),
            *parts.batteries_not_supervised(plan),
            *parts.shared_alarms(plan, proof.program),
            *_claims(plan, claims),
        ]
    )


def _claims(plan: Plan, claims: Sequence[ClaimResult]) -> Iterator[Finding]:
    for number, result in enumerate(claims):
        path, claim = ("never", number, "claim"), result.claim.claim.text
        if result.holds:
            continue
        if result.witness is None:
            text = f"It is not decided whether this can be: {claim}. The reason: {result.why}."
            remedy = "Say it with fewer conditions at once, or with shorter times; until then do not rely on it."
            yield finding(plan, "claim-undecided", path, "warning", text, remedy)
            continue
        events = len({time for time, _, _ in result.witness.events})
        how = f"{events} report{'' if events == 1 else 's'}" if events else "the clock alone"
        after = f"{how} and {at_most(result.witness.at_ms)}" if result.witness.at_ms else how
        if result.by_hand:
            hands = listed(_by_hand(plan, result.witness))
            text = f"The rules keep to this, but somebody can bring it about by hand, with {hands}: {claim}."
            remedy = (
                f"If nobody can switch {hands} by hand, say so (manual = false); else add a rule that sets it right."
            )
            yield finding(plan, "claim-fails-by-hand", path, "note", text, remedy)
        else:
            text = f"This can be, and was never to be: {claim}. It takes {after}; the timeline shows how."
            remedy = "Mend the rules that bring it about, or drop the claim if it is not meant."
            yield finding(plan, "claim-fails", path, "danger", text, remedy)


def _by_hand(plan: Plan, witness: Witness) -> list[str]:
    """Return the parts and states that somebody switches or sets in a timeline."""
    found = dict.fromkeys(name.removesuffix(".on") for _, name, _ in witness.events)
    return [name for name in found if name in plan.parts or name in plan.states]
