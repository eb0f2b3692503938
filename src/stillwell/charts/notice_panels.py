"""A proof as panels of notice time: one a hazard, with the one broken thing that is shown beside it."""

from collections.abc import Sequence
from typing import Any

from stillwell.charts.notice_curve import notice_curve
from stillwell.charts.notice_rows import Panel
from stillwell.proof.proved import Proved, Shown
from stillwell.proof.results import FaultResult
from stillwell.wording.counting import counted
from stillwell.wording.proof import fault_words, notice_cell, onset_cell


def proof_chart(proved: Proved) -> dict[str, Any]:
    """Return the chart of every hazard that was proved. Raises Refusal where charts cannot be drawn."""
    panels = [panel(proved, shown, slowest_fault(shown)) for shown in proved.hazards]
    title = "How long until somebody is told, by when it begins"
    return notice_curve(panels, proved.zone, title, f"{proved.plan.home.name}, {proved.proof.year}; nights are shaded")


def hazard_chart(proved: Proved, shown: Shown, broken: FaultResult | None) -> dict[str, Any]:
    """Return the chart of one hazard, with one thing broken. Raises Refusal where charts cannot be drawn."""
    title = f"{shown.result.hazard.name}: how long until somebody is told, by when it begins"
    return notice_curve([panel(proved, shown, broken)], proved.zone, title, f"{proved.proof.year}; nights are shaded")


def panel(proved: Proved, shown: Shown, broken: FaultResult | None) -> Panel:
    """Return the panel of a hazard; ``broken`` is drawn as its second line."""
    result = shown.result
    never = [one for one in result.faults if one.summary.share_never > result.normal.share_never]
    worst = notice_cell(result.normal.worst_s)
    said = f"at worst {worst}, {onset_cell(result, shown.worst, proved.zone)}"
    told_then = "" if broken is None else notice_cell(broken.summary.worst_s)
    if broken is not None:
        said += f"; with {fault_words(broken.fault, proved.plan)} {told_then}"
    in_band = f"with any one of {counted(len(never), 'thing')} broken" if never and not shown.never else ""
    curve = None if broken is None else broken.curve
    return Panel(result.hazard.name, result.told, shown.limit, _marked(shown), worst, said, curve, told_then, in_band)


def slowest_fault(shown: Shown) -> FaultResult | None:
    """Return the fault under which it goes worst and somebody is told all the same; None where none makes it worse."""
    normal_s = shown.result.normal.worst_s
    told = [one for one in shown.result.faults if one.summary.worst_s is not None]
    worst = max(told, key=_longest, default=None)
    return None if worst is None or normal_s is None or _longest(worst) <= normal_s else worst


def faults_that_matter(results: Sequence[FaultResult], normal_s: float | None) -> list[FaultResult]:
    """Return the faults that make it worse than it is with nothing broken, the worst first."""
    worse = [one for one in results if normal_s is not None and _longest(one) > normal_s]
    return sorted(worse, key=_longest, reverse=True)


def _longest(found: FaultResult) -> float:
    return float("inf") if found.summary.worst_s is None else found.summary.worst_s


def _marked(shown: Shown) -> int:
    """Return an onset that is worst, in the middle of the first stretch of such where there is one."""
    begin = int(shown.result.told.points[0])
    spans = [span for span in shown.worst if span[0] > begin]
    start, end = spans[0] if spans and shown.worst else (shown.onset_ms, shown.onset_ms)
    return min((start + end) // 2, shown.result.told.end - 1)
