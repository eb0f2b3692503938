"""Decide what must never be, and what can be.

First without the ages of timers, which is quick: what cannot be then, cannot be at all. What seems possible is told
as a story and run by the engine. Where the engine does not confirm it, the ages are followed too.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial

from stillwell.engine.program import Program
from stillwell.plan.loops import rules_of
from stillwell.plan.model import Never, Plan
from stillwell.proof.claims.guess import stories
from stillwell.proof.claims.hours import Almanac
from stillwell.proof.claims.inputs import MOST_CHOICES, Cut, Hands, Narrowed, are_many, choices, cut
from stillwell.proof.claims.moment import Moment
from stillwell.proof.claims.question import Question
from stillwell.proof.claims.reach import MOST_INSTANTS, Ages, Search, TooMuchError
from stillwell.proof.claims.story import Teller
from stillwell.proof.claims.witness import Witness
from stillwell.proof.world import DAY_MS
from stillwell.rules.formula import SetState


@dataclass(frozen=True, slots=True)
class Answer:
    """Whether something can be, with a timeline where it can; None: not decided, and ``why``."""

    can_be: bool | None
    witness: Witness | None = None
    why: str = ""


@dataclass(frozen=True, slots=True)
class ClaimResult:
    """Whether a claim of what must never be holds.

    ``holds`` is None where it is not decided, and ``why`` says why. Where it fails, ``witness`` shows how;
    ``by_hand``: not by the rules, only when somebody switches a part or sets a state by hand.
    """

    claim: Never
    holds: bool | None
    witness: Witness | None
    why: str
    by_hand: bool = False


def by_the_rules(plan: Plan) -> Hands:
    """Return what people may do when parts are switched by rules alone: set the states that no rule sets."""
    set_by_rules = {name for name, state in plan.states.items() if state.set_by == "rules"}
    driven = _driven(plan)
    return Hands(frozenset(), frozenset(plan.states) - set_by_rules - driven)


def by_hand(plan: Plan) -> Hands:
    """Return everything that people may do: switch what can be switched by hand, set what is theirs to set."""
    parts = frozenset(name for name, part in plan.parts.items() if part.manual)
    return Hands(parts, frozenset(name for name, state in plan.states.items() if state.set_by != "rules"))


def _driven(plan: Plan) -> frozenset[str]:
    deeds = [deed for rule in rules_of(plan) for deed in rule.do]
    return frozenset(deed.action.state for deed in deeds if isinstance(deed.action, SetState))


def almanac(program: Program, year: int) -> Almanac:
    """Return the clock of a year, and of some days after it."""
    edges = (datetime(year, 1, 1, tzinfo=UTC), datetime(year + 1, 1, 1, tzinfo=UTC))
    start, end = (int(edge.timestamp() * 1000) for edge in edges)
    return Almanac(program, (start, end + 8 * DAY_MS))


def decide_claims(
    plan: Plan, program: Program, year: int, *, most_instants: int = MOST_INSTANTS
) -> tuple[ClaimResult, ...]:
    """Decide every claim of a plan over all that can happen, with the windows of one year.

    ``most_instants`` bounds each of a few searches for a claim; what needs more is left undecided.
    """
    clock = almanac(program, year)
    return tuple(
        _claim(plan, clock, never, node, most_instants)
        for never, (_, node) in zip(plan.never, program.claims, strict=True)
    )


def _claim(plan: Plan, clock: Almanac, never: Never, node: int, most_instants: int) -> ClaimResult:
    question = Question((node,))
    rules = can_be(clock, question, by_the_rules(plan), most_instants=most_instants)
    if rules.can_be:
        return ClaimResult(never, False, rules.witness, "")
    hands = can_be(clock, question, by_hand(plan), most_instants=most_instants)
    if hands.can_be:
        return ClaimResult(never, False, hands.witness, "", by_hand=rules.can_be is False)
    if rules.can_be is None or hands.can_be is None:
        return ClaimResult(never, None, None, rules.why or hands.why)
    return ClaimResult(never, True, None, "")


def can_be(
    clock: Almanac, question: Question, hands: Hands, *, one_at_a_time: bool = False, most_instants: int = MOST_INSTANTS
) -> Answer:
    """Decide whether what is asked for can come to be.

    ``one_at_a_time`` leaves out what needs two things to happen in one instant. Of more than ``most_instants`` in one
    search it is left undecided.
    """
    return _Decider(clock, question, hands, one_at_a_time=one_at_a_time, most_instants=most_instants).answer()


class _Decider:
    """One question, searched for ever more closely: a search that finds no way at all settles it, so does a story."""

    def __init__(
        self, clock: Almanac, question: Question, hands: Hands, *, one_at_a_time: bool, most_instants: int
    ) -> None:
        self.clock = clock
        self.question = question
        self.one_at_a_time = one_at_a_time
        self.most_instants = most_instants
        self.whole = cut(clock.program, question.nodes, hands)
        self.any_hour = cut(clock.program, question.nodes, hands, "hours")
        self.any_past = cut(clock.program, question.nodes, hands, "past")
        self.why = "a way that seems possible is not confirmed by the engine"
        self.too_much = False

    def answer(self) -> Answer:
        for attempt in self._attempts():
            answer = attempt()
            if answer is not None:
                return answer
        return Answer(None, why=self.why)

    def _attempts(self) -> Iterator[Callable[[], Answer | None]]:
        yield partial(self._try, self.any_past, Ages.ANY)
        if are_many(self.whole.inputs) and not self.one_at_a_time:
            yield partial(self._try, self.whole, Ages.ANY, narrowed="few")
        self.too_much = False
        yield partial(self._try, self.whole, Ages.ANY)
        if self.whole.clock:
            yield partial(self._try, self.any_hour, Ages.LOOSE)
        if not (self.whole.clock and self.too_much):
            yield partial(self._try, self.whole, Ages.LOOSE)
        if not self.too_much:
            yield partial(self._try, self.whole, Ages.EXACT)
            yield partial(self._try, self.whole, Ages.EXACT, narrowed="extra")
        if self.too_much:
            yield partial(self._try, self.any_hour, Ages.LOOSE, narrowed="loss")
            yield self._guess

    def _guess(self) -> Answer | None:
        hours = self.clock.hours(self.whole.clock)
        teller = Teller(self.clock.program, self.question, self.whole, hours, ())
        for start_ms, rows, until_ms in stories(self.clock.program, self.whole, hours):
            witness = teller.shown_by(rows, start_ms, until_ms)
            if witness is not None:
                return Answer(True, witness)
        return None

    def _try(self, found: Cut, ages: Ages, *, narrowed: Narrowed = "") -> Answer | None:
        """Search once. Where it is ``narrowed``, a way counts, but that there is none does not."""
        possible = choices(found.inputs, one_at_a_time=self.one_at_a_time, narrowed=narrowed)
        if possible is None:
            self._give_up(f"more than {MOST_CHOICES} different things may happen in one instant")
            return None
        program, hours = self.clock.program, self.clock.hours(found.clock)
        moment = Moment(program, found, self.question.stands)
        try:
            path = Search(moment, hours, possible, ages, self.most_instants).path()
        except TooMuchError as error:
            self._give_up(str(error))
            return None
        if path is None:
            return None if narrowed else Answer(False)
        if found is self.any_past:
            return None
        teller = Teller(program, self.question, found, hours, tuple(moment.stateful))
        if found is self.whole or not self.whole.clock:
            witness = teller.witness(path)
        else:
            witness = teller.witness_in(path, self.clock.hours(self.whole.clock))
        return None if witness is None else Answer(True, witness)

    def _give_up(self, why: str) -> None:
        self.why, self.too_much = why, True
