"""Proves a changed plan and compares it with the running one.

In a process of its own (``watch.apart``):

    python -m stillwell.watch.proving < {"running": TEXT, "changed": TEXT, "year": 2026} > {"worse": [...], ...}
"""

from collections.abc import Mapping
from typing import Any, Final

from stillwell.control.shapes import Compared
from stillwell.plan.read import read_plan
from stillwell.problem import refuse
from stillwell.watch import apart

LIMIT_S: Final = 800.0


async def compared(running: str, changed: str, year: int) -> tuple[tuple[Compared, ...], tuple[Compared, ...]]:
    """Return what a changed plan makes worse, and what better. Raises Refusal where it cannot be proved."""
    answer = await apart.asked(
        __name__,
        {"running": running, "changed": changed, "year": year},
        LIMIT_S,
        late=refuse("the proof took too long", "Prove it elsewhere: stillwell prove HOME."),
        broken=refuse("the proof broke down", "See what `stillwell prove HOME` says of it."),
    )
    worse, better = ([Compared(*one) for one in answer[name]] for name in ("worse", "better"))
    return tuple(worse), tuple(better)


def answer_to(question: Mapping[str, Any]) -> dict[str, Any]:
    """Return the comparison as plain values. Raises Refusal for a changed plan that is wrong."""
    from stillwell.proof.claims.decide import decide_claims  # noqa: PLC0415 - only the process that proves has these
    from stillwell.proof.compare import compare, compare_claims  # noqa: PLC0415
    from stillwell.proof.prove import prove  # noqa: PLC0415
    from stillwell.wording.compared import difference_sentence  # noqa: PLC0415

    year = int(question["year"])
    plans = read_plan(question["running"], "the running plan"), read_plan(question["changed"], "home.toml")
    proofs = [prove(plan, year) for plan in plans]
    claims = [decide_claims(proof.plan, proof.program, year) for proof in proofs]
    found = [*compare(*proofs), *compare_claims(*claims)]
    said = [(one.worse, [one.hazard, difference_sentence(one, plans[0])]) for one in found]
    return {"worse": [text for worse, text in said if worse], "better": [text for worse, text in said if not worse]}


if __name__ == "__main__":
    apart.answer(answer_to)
