"""By when somebody must be told of a collapse, over the hours of a day."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from stillwell.charts.days import DAY_MS, HOUR_MS, local_times
from stillwell.civiltime import Span
from stillwell.engine.axis import Axis, at
from stillwell.engine.columns import Columns, Reports
from stillwell.engine.program import compile_formula
from stillwell.plan.model import Plan
from stillwell.record.columns import TRUE

_QUARTER_MS: Final = HOUR_MS // 4
_QUARTERS: Final = DAY_MS // _QUARTER_MS
_LOOK_MS: Final = 400 * DAY_MS


@dataclass(frozen=True, slots=True)
class Deadline:
    """From hour ``left`` to hour ``right`` of the local day: told within so many milliseconds."""

    left: float
    right: float
    within_ms: int


def collapse_deadlines(plan: Plan, span: Span) -> list[Deadline]:
    """Return the tightest deadline for a collapse at each quarter of an hour, equal neighbours as one.

    Where the night moves with the sun or the weekday, the tightest of any day of the span counts. Empty where the
    plan has no hazard of the kind collapse.
    """
    hazards = [hazard.deadline for hazard in plan.hazard if hazard.kind == "collapse"]
    if not hazards:
        return []
    by_day, by_night = min(each.day for each in hazards), min(each.night for each in hazards)
    program, night = compile_formula(plan, plan.home.night.formula)
    start, end = span[0], min(span[1], span[0] + _LOOK_MS)
    axis = Axis.of_span(start, end)
    times = np.arange(start - start % _QUARTER_MS + _QUARTER_MS, end, _QUARTER_MS)
    is_night = at(Columns(program, axis, Reports({})).steps(night), times) == TRUE
    quarter = local_times(program.home.zone, (start, end), times) // _QUARTER_MS % _QUARTERS
    within = np.full(_QUARTERS, np.iinfo(np.int64).max)
    np.minimum.at(within, quarter, np.where(is_night, by_night, by_day))
    return _merged(within.tolist(), max(by_day, by_night))


def _merged(within: list[int], most: int) -> list[Deadline]:
    found: list[Deadline] = []
    for index, ms in enumerate(within):
        left, right, known = index / 4, (index + 1) / 4, min(ms, most)
        if found and found[-1].within_ms == known:
            found[-1] = Deadline(found[-1].left, right, known)
        else:
            found.append(Deadline(left, right, known))
    return found
