"""The protected share of the year in plain words."""

from collections.abc import Mapping
from typing import Final

from stillwell.plan.model import Plan
from stillwell.proof.results import HazardResult
from stillwell.proof.share.protected import HOURS, HomeShare, Share
from stillwell.proof.tree.defaults import Mark
from stillwell.wording.counting import share, some
from stillwell.wording.proof import fault_words

_MOST_COSTS: Final = 3
_MOST_PAIRS: Final = 6
_LEAST_H: Final = 0.5


def home_sentence(home: HomeShare) -> str:
    """Say how well the whole home is protected; empty where it names no hazard."""
    if home.least is None:
        return ""
    least = home.least
    return (
        f"In at least {share(least.protected)} of the hours of a year in which something may begin, somebody is told "
        f'in time, whatever it is; "{least.hazard.name}" is worst off.'
    )


def founded_sentence(home: HomeShare) -> str:
    """Say what the chances behind the shares rest on."""
    standing = max((one.worst_mark for one in home.hazards), key=list(Mark).index, default=Mark.SET)
    return (
        "How often things break is assumed where the plan does not say; the least well founded figure that counts is "
        f'"{standing.value}". --json gives each with its source.'
    )


def share_row(found: Share, result: HazardResult, plan: Plan) -> tuple[str, str, str, str]:
    """Return a row: the hazard, its protected share, hours lost in a year, and what costs most of them."""
    known = {str(fault.fault): fault_words(fault.fault, plan) for fault in result.faults}
    costs = [
        f"{_cause(one.fault, known)} ({_hours(one.lost_h_per_year)})"
        for one in found.contributions[:_MOST_COSTS]
        if one.lost_h_per_year >= _LEAST_H
    ]
    return found.hazard.name, share(found.protected), _hours(found.lost_h_per_year), ", ".join(costs) or "-"


def pairs_sentence(found: Share, result: HazardResult, plan: Plan) -> str:
    """Say which two faults are enough together, the dearest first; empty where none are."""
    known = {str(fault.fault): fault_words(fault.fault, plan) for fault in result.faults}
    pairs = [one for one in found.cut_sets if len(one.faults) == 2]
    told = [" with ".join(_cause(fault, known) for fault in sorted(one.faults)) for one in pairs]
    return f"{found.hazard.name}: {some(told, _MOST_PAIRS)}." if told else ""


def _cause(fault: str, known: Mapping[str, str]) -> str:
    return "its own rules and hours" if fault == HOURS else known.get(fault, fault)


def _hours(hours: float) -> str:
    return f"{hours:,.0f} h" if hours >= 10 else f"{hours:.1f} h"
