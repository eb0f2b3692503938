"""From a plan and a record to a proposal: two tables of limits, how sure they are, and what speaks against them."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, TypeAlias

from stillwell.limits.cleaning import Cleaned, clean
from stillwell.limits.company import Company, company
from stillwell.limits.drift import Moved, drift
from stillwell.limits.learn import Learned, learn
from stillwell.limits.published.methods import METHODS, Method, walk
from stillwell.limits.realised import (
    Judged,
    Limits,
    Signs,
    judge,
    once_a_day,
    signs_of_record,
    told_by,
    walk_forward,
)
from stillwell.limits.settings import LONGEST_MS, Settings
from stillwell.limits.signs import exits_of, heard
from stillwell.limits.silences import silences_of
from stillwell.limits.support import Support, support
from stillwell.limits.table import LimitTable
from stillwell.limits.together import not_before
from stillwell.limits.trust import Mistrusted
from stillwell.plan.model import Plan
from stillwell.problem import Problem, Refusal
from stillwell.record.columns import Record

FEWEST_DAYS: Final = 7
"""From fewer days nothing is learned: not every day of the week has been seen."""
FEW_DAYS: Final = 28
OTHER_BUDGETS_DAYS: Final = (7.0, 14.0, 30.0, 60.0, 180.0)
FIXED_H: Final = (4, 6, 8, 10, 12, 16, 20, 24)
WALKED: Final = 0.8
"""The share of the work that is done when days have been walked through; the published methods are the rest."""
HOUR_MS: Final = 3_600_000

Learner: TypeAlias = Callable[[Cleaned, Sequence[float]], Sequence[Learned]]
"""From a cleaned record and budgets (false alarms a day) to a table for each."""


@dataclass(frozen=True)
class Asked:
    """What limits are asked for: at most one false alarm in so many days, and no limit longer than ``longest_ms``.

    ``question_days`` is for the soft question in the home, ``call_days`` for the call to the family. ``alone`` says
    that one person lives there, whatever movement tells.
    """

    question_days: float = 30.0
    call_days: float = 180.0
    longest_ms: int = LONGEST_MS
    alone: bool = False


@dataclass(frozen=True)
class Limit:
    """A table for one of the two alarms.

    ``judged`` is what such limits did on days they were not learned from (None: the record is too short to try), and
    ``support`` what that can carry.
    """

    budget_days: float
    learned: Learned
    judged: Judged | None
    support: Support


@dataclass(frozen=True)
class Choice:
    """A way to set limits beside the learned ones, judged on the same days; ``kind`` is "learned" (``size`` in days a
    false alarm), "fixed" (in hours), "once a day", or "published": by a ``method``, ``size`` being its parameter."""

    kind: str
    size: float
    judged: Judged
    method: Method | None = None


@dataclass(frozen=True)
class Proposal:
    """Learned limits for one home, and all that speaks for and against them. Nothing changes by it."""

    plan: Plan
    asked: Asked
    cleaned: Cleaned
    question: Limit
    call: Limit
    choices: tuple[Choice, ...]
    company: Company
    moved: tuple[Moved, ...]

    @property
    def chattering(self) -> tuple[Mistrusted, ...]:
        """The signs of life that went on without a rest, and were left out."""
        return tuple(each for each in self.cleaned.mistrusted if each.reason == "chatters")


def propose(
    plan: Plan,
    record: Record,
    asked: Asked,
    *,
    visits: Sequence[tuple[int, int]] = (),
    learner: Learner | None = None,
    progress: Callable[[float], None] = lambda _: None,
) -> Proposal:
    """Learn limits for both alarms from a record, and try them on days they were not learned from.

    Raises Refusal where the record cannot teach any.
    """
    teach = learner or default_learner(plan, asked.longest_ms)
    whole, names = heard(plan, record)
    if not names:
        raise Refusal(_no_signals(plan))
    cleaned = clean(whole, names, visits)
    found = company(plan, cleaned.record, cleaned.life, cleaned.spans)
    if found.visits:
        cleaned = clean(whole, names, [*visits, *found.visits])
    refuse_what_cannot_teach(cleaned, found, asked)
    question, call = both(teach(cleaned, [1 / asked.question_days, 1 / asked.call_days]))
    signs = signs_of_record(cleaned, names)
    told, judged_days = walk_forward(
        whole,
        names,
        lambda known: _tables(teach, known, asked),
        signs,
        [*visits, *found.visits],
        progress=lambda share: progress(WALKED * share),
    )
    judged = {name: judge(signs, times, judged_days) for name, times in told.items()}
    return Proposal(
        plan,
        asked,
        cleaned,
        _limit(asked.question_days, question, judged.get(_name(asked.question_days))),
        _limit(asked.call_days, call, judged.get(_name(asked.call_days))),
        tuple(_choices(signs, judged, judged_days, progress)) if judged else (),
        found,
        tuple(drift(cleaned)),
    )


def refuse_what_cannot_teach(cleaned: Cleaned, found: Company, asked: Asked) -> None:
    """Raise Refusal for a record from which no limit may be learned, with everything that is wrong with it."""
    problems = []
    stuck = [each for each in cleaned.mistrusted if each.reason == "chatters" and each.signal not in cleaned.life]
    problems += [
        Problem(
            f"{each.signal} has reported without a rest to the end of the record: it would hide every silence",
            remedy="Repair or turn the detector, or take it out of sign_of_life; then learn from the days after.",
            code="stuck",
        )
        for each in stuck
    ]
    if not cleaned.life:
        problems.append(
            Problem(
                "no sign of life that can be trusted is left in this record",
                remedy="See `stillwell inspect` for what ails its parts.",
                code="no-life",
            )
        )
    elif len(cleaned.used) < FEWEST_DAYS:
        left = sum(cleaned.counts.values())
        problems.append(
            Problem(
                f"{len(cleaned.used)} days of this record count, {left} are left out: too few to learn from",
                remedy=f"Record at least {FEWEST_DAYS} whole days with somebody at home; {FEW_DAYS} are better.",
                code="too-few-days",
            )
        )
    if found.shared and not asked.alone:
        problems.append(
            Problem(
                f"{len(found.walks)} times in {found.days:.0f} days movement came within three seconds from two rooms "
                "with another between them: more than one person, or an animal, moves about",
                remedy="Limits hold for one person alone. If that is so, check the doors in the plan and add --alone.",
                code="not-alone",
            )
        )
    if problems:
        raise Refusal(problems)


def both(learned: Sequence[Learned]) -> tuple[Learned, Learned]:
    """Return the question's limits and the call's, which never comes before the question."""
    question, call = learned
    return question, replace(call, table=not_before(call.table, question.table))


def default_learner(plan: Plan, longest_ms: int) -> Learner:
    """Return the learner of ``learn``, with a cap and the plan's ways out."""
    settings, exits = Settings(longest_ms=longest_ms), exits_of(plan)
    return lambda cleaned, budgets: learn(silences_of(cleaned, exits), budgets, exits, settings)


def _no_signals(plan: Plan) -> Problem:
    if "sign_of_life" not in plan.signals:
        return Problem("the plan has no sign_of_life", remedy="Add it under [signals].", code="no-sign-of-life")
    return Problem(
        "the record holds nothing of what sign_of_life is made of",
        remedy="Check that the parts have the same names in the plan and in the record.",
        code="no-life",
    )


def _tables(teach: Learner, known: Cleaned, asked: Asked) -> Mapping[str, Limits]:
    days = sorted({asked.question_days, asked.call_days, *OTHER_BUDGETS_DAYS})
    learned = teach(known, [1 / each for each in days])
    tables = {each: one.table for each, one in zip(days, learned, strict=True)}
    tables[asked.call_days] = not_before(tables[asked.call_days], tables[asked.question_days])
    return {_name(each): table for each, table in tables.items()}


def _name(budget_days: float) -> str:
    return f"{budget_days:g}"


def _limit(budget_days: float, learned: Learned, judged: Judged | None) -> Limit:
    if judged is None:
        return Limit(budget_days, learned, None, support(budget_days, 0, 0))
    return Limit(budget_days, learned, judged, support(budget_days, judged.false.count, judged.days))


def _choices(
    signs: Signs, judged: Mapping[str, Judged], days: Sequence[int], progress: Callable[[float], None]
) -> list[Choice]:
    choices = [Choice("learned", float(name), each) for name, each in judged.items()]
    for hours in FIXED_H:
        fixed = LimitTable((), hours * HOUR_MS)
        choices.append(Choice("fixed", hours, judge(signs, told_by(fixed, signs), days)))
    choices.append(Choice("once a day", 12, judge(signs, once_a_day(signs), days)))
    lived = signs.lived
    for number, method in enumerate(METHODS):
        progress(WALKED + (1 - WALKED) * number / len(METHODS))
        [told] = walk(method.tell, lived, days, [method.published])
        choices.append(Choice("published", method.published, judge(signs, told, days), method))
    progress(1.0)
    return choices
