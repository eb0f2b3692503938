"""Tables of limits as sentences: after which sign, at what hour, how long it may be quiet."""

from collections.abc import Iterator

from stillwell.civiltime import ClockTime
from stillwell.plan.limits import LimitRow, LimitTable
from stillwell.plan.model import Plan
from stillwell.plan.texts import DAY_KINDS, EVERY_DAY
from stillwell.rules.formula import Between, OnDays, Signal
from stillwell.wording.durations import exact
from stillwell.wording.formulas import calendar, noun
from stillwell.wording.vocabulary import Vocabulary, the


def limit_sentences(name: str, plan: Plan, words: Vocabulary) -> Iterator[str]:
    """Yield one sentence for each row of a table, and one for all else."""
    table = plan.limits[name]
    for row in table.rows:
        yield row_sentence(row, table, words)
    other = "any other" if table.rows else "the last"
    yield f"After {other} {noun(Signal(table.signal), words)} we worry after {exact(table.longest)}, and never later."


def row_sentence(row: LimitRow, table: LimitTable, words: Vocabulary) -> str:
    """Say a row: "After the last sign of life in the kitchen between 07:00 and 22:00 we worry after 2 h 15 min."."""
    return f"After the last {sign_words(row, table, words)} we worry after {exact(row.limit)}."


def sign_words(row: LimitRow, table: LimitTable, words: Vocabulary) -> str:
    """Say which signs a row is for: "sign of life in the kitchen on weekdays"."""
    pieces = [noun(Signal(table.signal), words)]
    if row.room is not None:
        pieces.append(f"in {the(row.room)}")
    if row.last is not None:
        pieces.append(f"({noun(Signal(row.last), words)})")
    if row.after_door is not None:
        pieces.append(f"within {exact(row.after_door)} after an outside door moved")
    if row.hours is not None:
        pieces.append(_hours(*row.hours))
    if row.days != EVERY_DAY:
        pieces.append(days_words(row.days))
    return " ".join(pieces)


def days_words(days: frozenset[int]) -> str:
    """Say days of the week: "on weekdays", "at weekends", "on Mondays and Thursdays"."""
    if days == DAY_KINDS["weekdays"]:
        return "on weekdays"
    if days == DAY_KINDS["weekends"]:
        return "at weekends"
    return calendar(OnDays(days))


def _hours(start: ClockTime, end: ClockTime) -> str:
    return calendar(Between(start, end))
