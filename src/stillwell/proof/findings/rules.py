"""Rules that can never act, and aids that do more than they should."""

from collections.abc import Iterator
from typing import Final

from stillwell.plan.loops import placed_rules
from stillwell.plan.model import Aid, Alarm, Plan
from stillwell.plan.names import SIGN_OF_LIFE, base_signals_of_life
from stillwell.proof.claims.decide import by_hand, can_be
from stillwell.proof.claims.hours import Almanac
from stillwell.proof.claims.question import Question
from stillwell.proof.findings.finding import Finding, Severity, finding, listed, quoted
from stillwell.rules.formula import Switch

PATIENCE: Final = 4_000
"""So many instants are looked at for one question about rules; what is not settled by then is not told of."""


def rules_that_cannot_fire(plan: Plan, clock: Almanac) -> Iterator[Finding]:
    """Yield the rules whose condition can never come about; only where that is certain."""
    nodes = {rule.name: rule for rule in clock.program.rules if not rule.of_part}
    for path, rule in placed_rules(plan):
        question = Question((nodes[rule.name].fires,), firing=True)
        if can_be(clock, question, by_hand(plan), most_instants=PATIENCE).can_be is not False:
            continue
        what = "raises nothing" if isinstance(rule, Alarm) else "does nothing"
        text = f'What "{rule.name}" waits for can never come about, so it {what}, ever.'
        remedy = "See whether its hours, states and figures can all hold together, and whether anything sets the state."
        severity: Severity = "danger" if isinstance(rule, Alarm) else "warning"
        yield finding(plan, "rule-cannot-fire", (*path, "when"), severity, text, remedy)


def aids_that_imitate_life(plan: Plan) -> Iterator[Finding]:
    """Yield each part that a rule switches and that passes for a sign of life."""
    life = {name.partition(".")[0] for name in base_signals_of_life(plan)}
    for part in plan.parts:
        switching = [rule.name for _, rule in placed_rules(plan) if part in life & switched_by(rule)]
        if switching:
            text = (
                f"{part} is part of {SIGN_OF_LIFE}, and {quoted(switching)} switches it: the house would pass for the "
                "resident, and an alarm for silence would wait for as long as the rule goes on."
            )
            remedy = f"Take {part} out of {SIGN_OF_LIFE}, or let no rule switch it."
            yield finding(plan, "aid-imitates-life", ("signals", SIGN_OF_LIFE), "danger", text, remedy)


def switched_by(rule: Alarm | Aid) -> frozenset[str]:
    """Return the parts that a rule switches."""
    return frozenset(deed.action.part for deed in rule.do if isinstance(deed.action, Switch))


def lamps_without_switch(plan: Plan) -> Iterator[Finding]:
    """Yield each lamp that only rules can switch."""
    with_button = {part.room for part in plan.parts.values() if part.kind == "push button" and part.room is not None}
    for name, part in plan.parts.items():
        if part.kind != "lamp" or part.manual or part.room in with_button:
            continue
        rules = [rule.name for _, rule in placed_rules(plan) if name in switched_by(rule)]
        if rules:
            text = f"Only rules switch {name} ({listed(rules)}): nobody in the room can turn it on or off."
            remedy = "Put a push button beside it, or leave its own switch in use and say manual = true."
            yield finding(plan, "lamp-without-switch", ("parts", name), "warning", text, remedy)
