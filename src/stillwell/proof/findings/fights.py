"""Rules that undo each other: opposite orders at once, and orders that end what another rule began."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

from stillwell.engine.operators import logic
from stillwell.engine.program import Program, RuleNode
from stillwell.plan.fault import Path
from stillwell.plan.loops import placed_rules
from stillwell.plan.model import Aid, Alarm, Plan
from stillwell.plan.names import part_signals_in
from stillwell.proof.claims.decide import by_hand, can_be
from stillwell.proof.claims.hours import Almanac
from stillwell.proof.claims.inputs import is_timeless
from stillwell.proof.claims.question import Question
from stillwell.proof.corners import BY_HAND
from stillwell.proof.findings.finding import Finding, finding
from stillwell.proof.findings.rules import PATIENCE
from stillwell.record.columns import Times
from stillwell.rules.formula import SetState
from stillwell.rules.words import duration_text


@dataclass(frozen=True)
class Order:
    """What one rule does to one part or state: ``what`` is on, off or a state's value, ``for_ms`` as in its action."""

    path: Path
    rule: Alarm | Aid
    node: RuleNode
    what: str
    for_ms: int | None

    @property
    def name(self) -> str:
        """The rule's name in quotes."""
        return f'"{self.rule.name}"'


def orders(plan: Plan, program: Program) -> dict[str, list[Order]]:
    """Return, by part or state, everything that rules do to it, in the order of the plan."""
    nodes = {rule.name: rule for rule in program.rules if not rule.of_part}
    found: dict[str, list[Order]] = {}
    for path, rule in placed_rules(plan):
        for number, deed in enumerate(rule.do):
            at, action = (*path, "do", number), deed.action
            if isinstance(action, SetState):
                found.setdefault(action.state, []).append(Order(at, rule, nodes[rule.name], action.value, None))
            else:
                what = "on" if action.on else "off"
                found.setdefault(action.part, []).append(Order(at, rule, nodes[rule.name], what, action.for_ms))
    return found


def rules_that_fight(plan: Plan, clock: Almanac) -> Iterator[Finding]:
    """Yield pairs of rules that order opposite things at once, each thing once.

    One cause makes both act in one instant, or the conditions of both can hold together. Two causes that would have
    to fall into one millisecond are left out.
    """
    for thing, found in orders(plan, clock.program).items():
        for first, second in combinations(found, 2):
            if first.what == second.what:
                continue
            if _act_at_once(plan, clock, first, second):
                text = (
                    f"{first.name} and {second.name} act on {thing} in the same instant, one says {first.what}, the "
                    f"other {second.what}. The later in the file has its way; the other does nothing."
                )
            elif thing in plan.parts and _hold_together(plan, clock, first, second):
                text = (
                    f"What {first.name} ({thing} {first.what}) and {second.name} ({thing} {second.what}) wait for can "
                    "be so at one time. Whichever begins last has its way, and when it is over nobody sets it back."
                )
            else:
                continue
            remedy = "Let one of them act only while the other does not: add to its while what the other must not meet."
            yield finding(plan, "rules-fight", second.path, "warning", text, remedy)


def _act_at_once(plan: Plan, clock: Almanac, first: Order, second: Order) -> bool:
    """Tell whether one cause makes both rules act: they still do when any one report comes a millisecond later."""
    question = Question((first.node.fires, second.node.fires), firing=True)
    witness = can_be(clock, question, by_hand(plan), one_at_a_time=True, most_instants=PATIENCE).witness
    if witness is None:
        return False
    rows = [(witness.start_ms + time, name, value) for time, name, value in witness.events]
    until_ms = witness.start_ms + witness.at_ms + 1
    for place, (time, name, value) in enumerate(rows):
        moved = sorted([*rows[:place], (time + 1, name, value), *rows[place + 1 :]], key=lambda row: row[0])
        if question.first_seen(clock.program, witness.start_ms, moved, until_ms) is None:
            return False
    return True


def _hold_together(plan: Plan, clock: Almanac, first: Order, second: Order) -> bool:
    conditions = (first.node.condition, second.node.condition)
    if any(clock.program.is_pulse(node) for node in conditions):
        return False
    return can_be(clock, Question(conditions), by_hand(plan), most_instants=PATIENCE).can_be is True


def orders_cut_short(plan: Plan, clock: Almanac) -> Iterator[Finding]:
    """Yield each part that one rule switches on for long and another ends sooner, where their hours allow it.

    What somebody does with a button is meant, and so is an aid that ends what an aid began; what an alarm has
    switched on should last.
    """
    for part, found in orders(plan, clock.program).items():
        cut = [
            (long, short)
            for long in found
            for short in found
            if isinstance(long.rule, Alarm) and _ends_sooner(long, short) and not _by_button(plan, short.rule)
        ]
        cut = [(long, short) for long, short in cut if _may_follow(clock, long, short)]
        if not cut:
            continue
        path = min(cut, key=lambda one: found.index(one[1]))[1].path
        said = "; ".join(
            f"{short.name} ({_how_long(short)}) ends what {long.name} began ({_how_long(long)})" for long, short in cut
        )
        text = f"{part}: {said}. The last order counts, also where it is the shorter one."
        remedy = "Give both the same time, or let the shorter one act only while the other has nothing to do."
        yield finding(plan, "cut-short", path, "warning", text, remedy)


def _how_long(order: Order) -> str:
    return order.what if order.for_ms is None else f"{order.what} for {duration_text(order.for_ms)}"


def _ends_sooner(long: Order, short: Order) -> bool:
    if long is short or long.what != "on" or long.rule is short.rule:
        return False
    if short.what == "off":
        return long.for_ms is not None
    return short.for_ms is not None and (long.for_ms is None or short.for_ms < long.for_ms)


def _by_button(plan: Plan, rule: Alarm | Aid) -> bool:
    """Tell whether only a button that somebody presses makes a rule act."""
    kinds = {plan.parts[name.partition(".")[0]].kind for name in part_signals_in(plan, rule.when.formula)}
    return bool(kinds) and kinds <= BY_HAND


def _may_follow(clock: Almanac, long: Order, short: Order) -> bool:
    """Tell whether the hours of a rule allow it to act while what another began still goes on."""
    if long.for_ms is None:
        return True
    began, until = _hours(clock, long.node.condition)
    ended, ended_until = _hours(clock, short.node.condition)
    reach = until + long.for_ms - (short.for_ms or 0)
    return bool(((began[:, None] < ended_until[None, :]) & (ended[None, :] < reach[:, None])).any())


def _hours(clock: Almanac, condition: int) -> tuple[Times, Times]:
    """Return the stretches in which the clock lets a condition be true, as far as it must in any case."""
    nodes = [node for node in _musts(clock.program, condition) if is_timeless(clock.program, node)]
    return clock.together(nodes)


def _musts(program: Program, node: int) -> Iterator[int]:
    """Yield what must hold for a node to hold or come: itself, or the parts of an and."""
    operator, children = program.nodes[node].operator, program.nodes[node].children
    if isinstance(operator, logic.AllOf | logic.PulseWhile):
        for child in children:
            yield from _musts(program, child)
    else:
        yield node
