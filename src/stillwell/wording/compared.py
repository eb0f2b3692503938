"""What a changed plan makes worse or better, in sentences."""

import math
from typing import Final

from stillwell.plan.model import Plan
from stillwell.proof.compare import Difference
from stillwell.wording.counting import listed, share, some
from stillwell.wording.durations import at_most
from stillwell.wording.proof import choice_words, fault_words

_MOST_FAULTS: Final = 4


def difference_sentence(one: Difference, plan: Plan) -> str:
    """Say one difference; ``plan`` is the running one, whose names it uses."""
    name = f'"{one.hazard}"'
    match one.what:
        case "gone":
            return f"{name} is no longer looked out for."
        case "new":
            return f"{name} is looked out for now."
        case "deadline":
            much = "more" if one.worse else "less"
            return f"For {name} {much} time is allowed: {_time(one.after)} rather than {_time(one.before)}."
        case "in time":
            return f"{name} is noticed in time for {share(one.after)} of all onsets rather than {share(one.before)}."
        case "claim" if one.worse:
            return f"It no longer holds that this can never be: {one.claim}."
        case "claim":
            return f"Now this can never be: {one.claim}."
        case "blind":
            return f"With {_faults(one, plan)}, somebody is told that it is so {_after(one)}."
        case "fault":
            return f"With {_faults(one, plan)}, {_noticed(one)}."
        case "set otherwise":
            assert one.choice is not None
            return f"While {choice_words(one.choice, plan)}, {_noticed(one)}."
        case "clock changes":
            return f"In the weeks in which the clocks change, {_noticed(one)}."
        case _:
            text = _noticed(one)
            return f"{text[:1].upper()}{text[1:]}."


def _noticed(one: Difference) -> str:
    return f'at worst somebody knows of "{one.hazard}" {_after(one)}'


def _after(one: Difference) -> str:
    if math.isinf(one.after):
        return f"never, rather than after {_time(one.before)}"
    return f"after {_time(one.after)} rather than {'never' if math.isinf(one.before) else _time(one.before)}"


def _time(seconds: float) -> str:
    return at_most(seconds * 1000)


def _faults(one: Difference, plan: Plan) -> str:
    words = [fault_words(fault, plan) for fault in one.faults]
    return f"any of {some(words, _MOST_FAULTS)}" if len(words) > 1 else listed(words)
