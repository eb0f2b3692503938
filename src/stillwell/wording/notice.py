"""The distribution of notice time in plain words."""

from collections.abc import Iterator
from typing import Final

from stillwell.plan.model import Plan
from stillwell.replay.distribution import Spread
from stillwell.wording.counting import share
from stillwell.wording.durations import at_most

_PRONOUNS: Final = {"woman": "she", "man": "he"}


def pronoun(plan: Plan) -> str:
    """Return "she", "he" or "the resident"."""
    return _PRONOUNS.get(plan.resident.sex or "", "the resident")


def notice_sentences(spread: Spread, who: str) -> Iterator[str]:
    """Say how long it would have taken until somebody was told. ``who`` is a pronoun or a noun."""
    if spread.weight_s <= 0:
        yield "No moment of this record was watched: nothing can be said of the notice time."
        return
    told = [
        f"half the time somebody is told within {_within(spread.median)}" if spread.median is not None else "",
        f"19 times in 20 within {_within(spread.p95)}" if spread.p95 is not None else "",
        f"never later than after {_within(spread.max)}" if spread.max is not None else "",
    ]
    known = ", ".join(filter(None, told)) or "for most of the moments nobody would ever be told"
    yield f"If {who} fell silent at any moment of this record: {known}."
    if spread.never_share > 0:
        yield f"At {share(spread.never_share)} of the moments nobody would be told at all."
    if spread.standing_share > 0:
        yield f"At {share(spread.standing_share)} of the moments an alarm stood already; they count as told at once."


def notice_cells(spread: Spread) -> tuple[str, str, str]:
    """Write median, 95 % and longest for a table; "never" where somebody is not told of at least so many."""
    if spread.weight_s <= 0:
        return ("-", "-", "-")
    return (_cell(spread.median), _cell(spread.p95), _cell(spread.max))


def _cell(seconds: float | None) -> str:
    return "never" if seconds is None else _within(seconds)


def _within(seconds: float) -> str:
    return at_most(seconds * 1000)
