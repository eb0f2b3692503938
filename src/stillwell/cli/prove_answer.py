"""A proof as JSON: the names of the top level and of each hazard are a promise to programs."""

from dataclasses import asdict
from typing import Any, Final

from stillwell.proof.claims.decide import ClaimResult
from stillwell.proof.curve import Summary
from stillwell.proof.findings.finding import Finding
from stillwell.proof.helps.find import Helps
from stillwell.proof.proved import Proved, Shown
from stillwell.proof.results import FaultResult
from stillwell.proof.share.protected import Share
from stillwell.record.text import iso
from stillwell.wording.proof import choice_words, fault_words

MOST_CUT_SETS: Final = 100


def prove_answer(proved: Proved) -> dict[str, Any]:
    """Return all that a proof found; durations are seconds, null means never, instants are ISO 8601 UTC."""
    proof = proved.proof
    return {
        "year": proof.year,
        "span": {"start": iso(proof.span[0]), "end": iso(proof.span[1])},
        "hazards": [_hazard(proved, shown) for shown in proved.hazards],
        "protected_share": proved.share.protected,
        "shares": [_share(share) for share in proved.share.hazards],
        "findings": [_finding(proved, found) for found in proved.findings],
        "claims": [_claim(claim) for claim in proved.claims],
        "helps": [_helps(helps) for helps in proved.helps.values()],
    }


def _helps(helps: Helps) -> dict[str, Any]:
    return {
        "hazard": helps.hazard,
        "helps": [
            {
                "change": one.change.told,
                "caution": one.change.caution,
                "sup_before_s": one.before.worst_s,
                "sup_after_s": one.after.worst_s,
                "share_before": one.share_before,
                "share_after": one.share_after,
                "gained": one.gained,
            }
            for one in helps.helps
        ],
        "tried": helps.tried,
        "untried": list(helps.untried),
    }


def _share(share: Share) -> dict[str, Any]:
    return {
        "hazard": share.hazard.name,
        "protected_share": share.protected,
        "at_risk_h_per_year": share.at_risk_h,
        "lost_h_per_year": share.lost_h_per_year,
        "contributions": [
            {
                "fault": one.fault,
                "lost_h_per_year": one.lost_h_per_year,
                "chance": None if one.chance is None else one.chance.value,
                "standing": None if one.chance is None else one.chance.mark.value,
                "source": None if one.chance is None else one.chance.source,
                "importance": None if one.importance is None else asdict(one.importance),
            }
            for one in share.contributions
        ],
        "cut_sets": [
            {"faults": sorted(one.faults), "onsets": one.onsets, "lost_h_per_year": one.lost_h_per_year}
            for one in share.cut_sets[:MOST_CUT_SETS]
        ],
        "standing": share.worst_mark.value,
    }


def _finding(proved: Proved, found: Finding) -> dict[str, Any]:
    line, column = proved.place(found.path)
    return {
        "code": found.code,
        "severity": found.severity,
        "where": found.where,
        "text": found.text,
        "remedy": found.remedy,
        "file": proved.file,
        "line": line,
        "column": column,
    }


def _claim(result: ClaimResult) -> dict[str, Any]:
    return {
        "claim": result.claim.claim.text,
        "holds": result.holds,
        "by_hand": result.by_hand,
        "why": result.why,
    }


def _hazard(proved: Proved, shown: Shown) -> dict[str, Any]:
    result, answers = shown.result, shown.answers
    hazard, case = result.hazard, result.worst
    first = next(iter(result.alarms), None)
    raised = shown.witness and [one for one in shown.witness.noticed.raised.values() if one is not None]
    return {
        "hazard": hazard.name,
        "kind": hazard.kind,
        "alarm": first if case is None or case.alarm is None else case.alarm,
        "alarms": list(result.alarms),
        "deadline_s": shown.deadline_ms / 1000,
        "deadline_day_s": hazard.deadline.day / 1000,
        "deadline_night_s": hazard.deadline.night / 1000,
        "normal": _summary(result.normal),
        "raised_s": _since(shown, min(raised, default=None) if raised else None),
        "told_s": _since(shown, shown.told_ms),
        "acknowledged_s": _since(shown, answers.acknowledged_ms if answers else None),
        "at_door_s": _since(shown, answers.at_door_ms if answers else None),
        "clock_changes": [_summary(one) for one in result.clock_changes],
        "set_by_hand": choice_words(result.choice, proved.plan),
        "otherwise": [
            {"set_by_hand": choice_words(choice, proved.plan), **_summary(one)}
            for choice, one in result.otherwise.items()
        ],
        "exact": not result.unsettled,
        "unsettled": list(result.unsettled),
        "late": [{"start": iso(start), "end": iso(end)} for start, end in shown.late],
        "never": [{"start": iso(start), "end": iso(end)} for start, end in shown.never],
        "faults": [_fault(proved, found) for found in result.faults],
        "begins": "" if case is None else case.world.told,
    }


def _since(shown: Shown, at_ms: int | None) -> float | None:
    return None if at_ms is None else (at_ms - shown.onset_ms) / 1000


def _summary(summed: Summary) -> dict[str, Any]:
    return {
        "inf_s": summed.least_s,
        "sup_s": summed.worst_s,
        "attained": summed.attained,
        "mean_s": summed.mean_s,
        "share_within_deadline": summed.share_within,
        "share_never": summed.share_never,
        "worst_onset": iso(summed.worst_onset),
    }


def _fault(proved: Proved, found: FaultResult) -> dict[str, Any]:
    return {
        "fault": str(found.fault),
        "kind": found.fault.kind,
        "subject": found.fault.subject,
        "words": fault_words(found.fault, proved.plan),
        "sup_s": found.summary.worst_s,
        "told_blind_s": found.told_blind_s,
        "share_within_deadline": found.summary.share_within,
        "share_never": found.summary.share_never,
        "worst_onset": iso(found.summary.worst_onset),
    }
