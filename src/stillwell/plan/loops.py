"""Which rules drive each other: a rule sets a part or a state, and another rule reads it."""

from collections.abc import Iterator

from stillwell.plan.circles import circles
from stillwell.plan.kinds import SWITCHED
from stillwell.plan.model import Aid, Alarm, Plan, Rule
from stillwell.plan.names import names_read
from stillwell.rules.formula import SetState

_NOT_DRIVEN = frozenset({"lost", "battery"})


def rules_of(plan: Plan) -> tuple[Alarm | Aid, ...]:
    """Return everything that fires: the alarms, then the aids, as they stand in the file."""
    return (*plan.alarm, *plan.aid)


def placed_rules(plan: Plan) -> Iterator[tuple[tuple[str, int], Alarm | Aid]]:
    """Yield everything that fires with its path in the plan."""
    for number, rule in enumerate(rules_of(plan)):
        alarms = len(plan.alarm)
        yield (("alarm", number) if number < alarms else ("aid", number - alarms)), rule


def rule_loops(plan: Plan) -> tuple[tuple[str, ...], ...]:
    """Return circles of rules that drive each other, as (rule, what it sets, rule that reads it, what that sets...).

    Each begins with a rule, which what stands last drives again. A rule that reads what it sets itself is a
    circle of its own. Every rule that stands in any circle stands in one of those returned.
    """
    rules = rules_of(plan)
    moved = {*plan.states, *(name for name, part in plan.parts.items() if part.kind in SWITCHED)}
    graph: dict[int | str, list[int | str]] = {}
    for number, rule in enumerate(rules):
        graph[number] = [thing for thing in sorted(things_set(rule)) if thing in moved]
    for number, rule in enumerate(rules):
        for thing in sorted(things_read(plan, rule)):
            graph.setdefault(thing, []).append(number)
    return tuple(
        tuple(rules[node].name if isinstance(node, int) else node for node in circle) for circle in circles(graph)
    )


def things_set(rule: Alarm | Aid) -> frozenset[str]:
    """Return the parts that a rule switches and the states that it sets."""
    actions = (deed.action for deed in rule.do)
    return frozenset(each.state if isinstance(each, SetState) else each.part for each in actions)


def things_read(plan: Plan, rule: Alarm | Aid) -> frozenset[str]:
    """Return the parts and states whose doing a rule reads, itself or through derived signals."""
    return things_in(plan, rule.when) | (things_in(plan, rule.while_) if rule.while_ is not None else frozenset())


def things_in(plan: Plan, rule: Rule) -> frozenset[str]:
    """Return the parts and states whose doing a formula reads; that a part is lost is no doing of a rule."""
    names = names_read(plan, rule.formula)
    return frozenset(name.partition(".")[0] for name in names if name.partition(".")[2] not in _NOT_DRIVEN)
