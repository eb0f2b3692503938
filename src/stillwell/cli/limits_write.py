"""Learned limits into a plan, and what the proof makes of the change."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from stillwell.limits.proposal import Proposal
    from stillwell.plan.limits import LimitTable
    from stillwell.plan.model import Plan
    from stillwell.proof.compare import Difference
    from stillwell.proof.results import Proof


@dataclass(frozen=True)
class Changed:
    """A plan that was written: its file, the tables in it that were learned, and how its proof differs."""

    file: str
    tables: tuple[str, ...]
    alarm_added: bool
    question_added: bool
    differences: tuple["Difference", ...]


def write_limits(home: str, found: "Proposal", *, shown: bool) -> Changed:
    """Write both tables into the plan of a home; remarks and all else stay.

    The proof is made before and after, with nothing broken: with each part broken it takes minutes for tables of many
    hours, and is for ``stillwell prove``. The file is only written once the changed plan has been read and proved.
    """
    from stillwell.cli.home import plan_path
    from stillwell.files import read_text, write_whole
    from stillwell.limits.written import CALL, QUESTION, waits_for, write_proposal
    from stillwell.plan.read import read_plan
    from stillwell.proof.compare import compare

    file = plan_path(home)
    text = read_text(file)
    before = read_plan(text, str(file))
    changed = write_proposal(text, before, tables_of(found))
    after = read_plan(changed, str(file))
    differences = compare(_proof(before, shown=shown), _proof(after, shown=shown))
    if changed != text:
        write_whole(file, changed)
    call, question = (waits_for(after, name) and not waits_for(before, name) for name in (CALL, QUESTION))
    return Changed(str(file), tuple(tables_of(found)), call, question, differences)


def tables_of(found: "Proposal") -> Mapping[str, "LimitTable"]:
    """Return the two learned tables as the plan holds them."""
    from stillwell.limits.written import CALL, QUESTION, plan_table
    from stillwell.wording.limits import why_sentence

    pairs = ((QUESTION, found.question), (CALL, found.call))
    return {
        name: plan_table(found.plan, limit.learned.table, why_sentence(limit), limit.budget_days)
        for name, limit in pairs
    }


def _proof(plan: "Plan", *, shown: bool) -> "Proof":
    from datetime import UTC, datetime

    from stillwell.cli.progress import progress
    from stillwell.proof.prove import prove

    year = datetime.now(UTC).year  # noqa: TID251 - the proof is asked about today
    hazards = [hazard.name for hazard in plan.hazard if hazard.kind == "collapse"]
    with progress("Proving", 1000, shown=shown) as done:
        return prove(plan, year, hazards, lambda share, _next: done(round(share * 1000)), faults=())
