"""Learns tables of limits anew from a store, and proves what comes of it.

In a process of its own (``watch.apart``):

    python -m stillwell.watch.relearning < {"store": URL, "plan": TEXT, "now_ms": N} > {"text": TEXT, "nights": [...]}
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from stillwell.plan.read import read_plan
from stillwell.problem import refuse
from stillwell.watch import apart

LIMIT_S: Final = 1800.0
LEARNED_FROM_MS: Final = 182 * 86_400_000
"""Half a year: longer ago a routine was another."""


@dataclass(frozen=True, slots=True)
class TableNight:
    """What a night's learning came to for one table, in a sentence; ``taken``: its limits are in the new text."""

    table: str
    taken: bool
    sentence: str


@dataclass(frozen=True, slots=True)
class Relearned:
    """A night's learning: the plan's text after it, the same where nothing is to be taken, and each table's outcome."""

    text: str
    nights: tuple[TableNight, ...]


async def relearned(store: str, text: str, now_ms: int) -> Relearned:
    """Learn anew in another process. Raises Refusal where that could not be done."""
    answer = await apart.asked(
        __name__,
        {"store": store, "plan": text, "now_ms": now_ms},
        LIMIT_S,
        late=refuse("learning took too long", "Learn elsewhere: stillwell export, then stillwell limits."),
        broken=refuse("learning broke down", "See what `stillwell limits` says of an exported record."),
    )
    return Relearned(answer["text"], tuple(TableNight(*each) for each in answer["nights"]))


def answer_to(question: Mapping[str, Any]) -> dict[str, Any]:
    """Return the new text and what came of each table, as plain values. Raises Refusal where nothing can be learned."""
    from stillwell.limits.relearn import relearn  # noqa: PLC0415 - only the process that learns has these
    from stillwell.plan.edit import write_limits  # noqa: PLC0415
    from stillwell.record.gaps import with_no_report_gaps  # noqa: PLC0415
    from stillwell.store.export import record_of  # noqa: PLC0415
    from stillwell.store.store import look_into  # noqa: PLC0415
    from stillwell.wording.nights import night_sentence, unproved_sentence  # noqa: PLC0415

    text, now_ms = str(question["plan"]), int(question["now_ms"])
    plan = read_plan(text, "the running plan")
    store = look_into(str(question["store"]))
    try:
        span = store.span_of_events()
        from_ms = max(now_ms - LEARNED_FROM_MS, now_ms if span is None else span[0])
        record = with_no_report_gaps(record_of(store, plan, min(from_ms, now_ms - 1), now_ms))
    finally:
        store.close()
    nights = []
    for name in list(plan.limits):
        table = plan.limits[name]
        if table.relearn is None or table.one_false_in is None:
            continue
        night = relearn(plan, record, name)
        changed = write_limits(text, name, night.table)
        worse = night.verdict == "changed" and _late_more_often(text, changed, now_ms)
        taken = night.verdict == "changed" and not worse
        if taken:
            text, plan = changed, read_plan(changed, "the running plan")
        nights.append([name, taken, unproved_sentence(night) if worse else night_sentence(night)])
    return {"text": text, "nights": nights}


def _late_more_often(running: str, changed: str, now_ms: int) -> bool:
    """Whether a hazard that silence tells of would be noticed in time for fewer onsets."""
    from datetime import UTC, datetime  # noqa: PLC0415

    from stillwell.proof.prove import prove  # noqa: PLC0415

    year = datetime.fromtimestamp(now_ms / 1000, UTC).year
    shares = []
    for text in (running, changed):
        plan = read_plan(text, "home.toml")
        hazards = [hazard.name for hazard in plan.hazard if hazard.kind == "collapse"]
        proof = prove(plan, year, hazards, faults=())
        shares.append({one.hazard.name: one.normal.share_within for one in proof.hazards})
    before, after = shares
    return any(after[name] < share - 1e-9 for name, share in before.items())


if __name__ == "__main__":
    apart.answer(answer_to)
