"""Names, states, hazards and everything written in the rule language."""

from collections.abc import Iterator, Sequence

from stillwell.plan.fault import Fault, Path, Untold
from stillwell.plan.kinds import HAZARD_PARTS, HAZARDS_AT_OPENINGS
from stillwell.plan.known import unknown_name
from stillwell.plan.loops import placed_rules, rule_loops, things_in
from stillwell.plan.model import Deed, Plan, Rule
from stillwell.plan.names import SIGN_OF_LIFE, Derived, derived_signals, names_of, nodes
from stillwell.plan.naming import nearest, short
from stillwell.rules.check import check_action, check_formula
from stillwell.rules.formula import Compare, NoneForLimit, SetState, Signal, StateIs
from stillwell.rules.kinds import Kind, Mistake, Names
from stillwell.rules.parse import DAYS
from stillwell.rules.words import formula_text

RESERVED = frozenset(
    {"and", "at", "between", "end", "for", "from", "is", "least", "limit", "no", "not", "of", "off", "on", "or", "set"}
    | {"start", "sunrise", "sunset", "then", "to", "within", "without", *DAYS}
)
"""Words of the rule language, which a rule would not take for names."""


def check_names(plan: Plan, _untold: Untold) -> Iterator[Fault]:
    """What rules may name is named once, and not like a word of the language."""
    owners: dict[str, str] = {}
    for table in ("parts", "signals", "states"):
        for name in getattr(plan, table):
            if name in RESERVED:
                what = f'"{name}" is a word of the rule language'
                yield Fault((table, name), "reserved-word", what, "Choose another name.", at_key=True)
            if name in owners:
                what = f"{name} stands under [{owners[name]}] too"
                remedy = "Rules could not tell them apart: rename one."
                yield Fault((table, name), "name-taken", what, remedy, at_key=True)
            owners.setdefault(name, table)
    yield from _twice("hazard", [hazard.name for hazard in plan.hazard])
    yield from _twice("alarm", [alarm.name for alarm in plan.alarm])
    yield from _twice("aid", [aid.name for aid in plan.aid], {alarm.name for alarm in plan.alarm})


def _twice(table: str, names: Sequence[str], others: set[str] | None = None) -> Iterator[Fault]:
    seen = set(others or ())
    for number, name in enumerate(names):
        if name in seen:
            what = f'the name "{short(name)}" is taken'
            yield Fault((table, number, "name"), "name-twice", what, f"Give this {table} a name of its own.")
        seen.add(name)


def check_states(plan: Plan, untold: Untold) -> Iterator[Fault]:
    """A state begins as one of its values, and each value is one word of its own."""
    for name, state in plan.states.items():
        path: Path = ("states", name)
        if state.initial not in state.values and not untold.touches((*path, "values")):
            what = f'"{short(state.initial)}" is none of its values'
            remedy = nearest(state.initial, state.values, "Values")
            yield Fault((*path, "initial"), "initial-not-a-value", what, remedy)
        for number, value in enumerate(state.values):
            if value in state.values[:number]:
                yield Fault((*path, "values", number), "value-twice", f'"{value}" stands twice', "Name it once.")
            if value == "not":
                what = '"not" is a word of the rule language'
                yield Fault((*path, "values", number), "reserved-word", what, "Choose another word.")


def check_hazards(plan: Plan, untold: Untold) -> Iterator[Fault]:
    """What a hazard is narrowed to exists and can tell of it."""
    for number, hazard in enumerate(plan.hazard):
        path: Path = ("hazard", number)
        known = not untold.covers((*path, "kind"))
        for place, name in enumerate(hazard.parts):
            yield from unknown_name(plan, untold, (*path, "parts", place), "parts", name)
            part = plan.parts.get(name)
            fits = part is None or part.kind in HAZARD_PARTS[hazard.kind]
            if part is not None and not fits and known and not untold.covers(("parts", name, "kind")):
                what = f"{name} is of kind {part.kind} and cannot tell of {hazard.kind}"
                remedy = f"Parts that can: {', '.join(sorted(HAZARD_PARTS[hazard.kind]))}."
                yield Fault((*path, "parts", place), "hazard-part-misfit", what, remedy)
        for place, name in enumerate(hazard.openings):
            yield from unknown_name(plan, untold, (*path, "openings", place), "openings", name)
        if hazard.openings and hazard.kind not in HAZARDS_AT_OPENINGS and known:
            what = f"{hazard.kind} does not come through an opening"
            yield Fault((*path, "openings"), "hazard-opening-misfit", what, "Leave openings out.")


def check_rules(plan: Plan, untold: Untold) -> Iterator[Fault]:
    """Every formula and action makes sense, and alarms know their hazard and call list."""
    derived = derived_signals(plan)
    yield from _signal_faults(plan, untold, derived)
    look = _Look(plan, untold, derived)
    for path, each in placed_rules(plan):
        yield from look.formula((*path, "when"), each.when, needs_level=False)
        if each.while_ is not None:
            yield from look.formula((*path, "while"), each.while_, needs_level=True)
        yield from look.deeds((*path, "do"), each.do)
    for number, alarm in enumerate(plan.alarm):
        yield from _hazard_of_alarm(plan, untold, ("alarm", number, "hazard"), alarm.hazard)
        yield from unknown_name(plan, untold, ("alarm", number, "call"), "calls", alarm.call)
    for number, never in enumerate(plan.never):
        yield from look.formula(("never", number, "claim"), never.claim, needs_level=True)


def _hazard_of_alarm(plan: Plan, untold: Untold, path: Path, name: str) -> Iterator[Fault]:
    names = [hazard.name for hazard in plan.hazard]
    unread = any(untold.covers(("hazard", number, "name")) for number in range(len(names)))
    if name not in names and not unread and not untold.covers(("hazard",)):
        remedy = nearest(name, names, "Hazards") or "Write it down under [[hazard]]."
        yield Fault(path, "unknown-hazard", f'there is no hazard "{short(name)}"', remedy)


def _signal_faults(plan: Plan, untold: Untold, derived: Derived) -> Iterator[Fault]:
    for circle in derived.circles:
        way = " -> ".join((*circle, circle[0]))
        remedy = "Take one of these names out of the formula of another."
        yield Fault(("signals", circle[0]), "signals-in-a-circle", f"a signal needs itself: {way}", remedy)
    look = _Look(plan, untold, derived)
    for name in derived.order:
        path: Path = ("signals", name)
        mistakes = derived.mistakes[name]
        yield from look.told(path, plan.signals[name], mistakes)
        kind = derived.types.get(name)
        if kind is None and not mistakes:
            yield _number_fault(path, plan.signals[name])
        elif name == SIGN_OF_LIFE and kind is not None and kind.kind is not Kind.PULSE:
            what = "sign_of_life must be a pulse: moments at which the resident did something"
            yield Fault(path, "sign-of-life-kind", what, "Say `start of ...` for a level, and join pulses with or.")


def _number_fault(path: Path, rule: Rule) -> Fault:
    text = formula_text(rule.formula)
    remedy = f"Compare it with a number and its unit, as in `{text} < 16C`."
    return Fault(path, "bare-number", f"{text} is a number, and neither holds nor happens", remedy, rule.formula.at)


class _Look:
    """Looks at formulas and actions with the names of one plan."""

    def __init__(self, plan: Plan, untold: Untold, derived: Derived) -> None:
        self._names: Names = names_of(plan, derived)
        self._untold = untold
        fit = {name for name, kind in derived.types.items() if name != SIGN_OF_LIFE or kind.kind is Kind.PULSE}
        self._unsure = set(plan.signals) - fit

    def formula(self, path: Path, rule: Rule, *, needs_level: bool) -> Iterator[Fault]:
        """Yield what is wrong with a formula that stands where a level or, unless ruled out, a pulse may stand."""
        kind, mistakes = check_formula(rule.formula, self._names)
        yield from self.told(path, rule, mistakes)
        if mistakes:
            return
        if kind is Kind.NUMBER:
            yield _number_fault(path, rule)
        elif kind is Kind.PULSE and needs_level:
            text = formula_text(rule.formula)
            remedy = f"Put it under `when`, or say `1 ({text}) within 10min`."
            what = "this is a pulse, a moment; here must stand what lasts"
            yield Fault(path, "level-needed", what, remedy, rule.formula.at)

    def deeds(self, path: Path, deeds: Sequence[Deed]) -> Iterator[Fault]:
        """Yield what is wrong with the actions of one rule."""
        seen: set[str] = set()
        for number, deed in enumerate(deeds):
            action = deed.action
            target = action.state if isinstance(action, SetState) else action.part
            if not self._hangs_on_untold(target):
                for mistake in check_action(action, self._names):
                    yield Fault((*path, number), "rule-mistake", mistake.what, mistake.hint, mistake.at)
            if target in seen:
                what = f"{target} is told twice what to do"
                yield Fault((*path, number), "do-twice", what, "Keep one of the two.", action.at)
            seen.add(target)

    def told(self, path: Path, rule: Rule, mistakes: Sequence[Mistake]) -> Iterator[Fault]:
        """Yield those mistakes of a formula that do not come from something that could not be read."""
        excused = {
            node.at
            for node in nodes(rule.formula)
            if isinstance(node, (Signal, Compare, StateIs))
            and self._hangs_on_untold(node.state if isinstance(node, StateIs) else node.name)
        }
        for node in nodes(rule.formula):
            if isinstance(node, NoneForLimit) and self._untold.touches(("limits", node.limit)):
                excused |= {node.at, node.body.at}
        for mistake in mistakes:
            if mistake.at not in excused:
                yield Fault(path, "rule-mistake", mistake.what, mistake.hint, mistake.at)

    def _hangs_on_untold(self, name: str) -> bool:
        owner = name.partition(".")[0]
        return owner in self._unsure or any(
            self._untold.covers((table, owner, *keys))
            for table, keys in (("parts", ("kind",)), ("parts", ("power",)), ("signals", ()), ("states", ("values",)))
        )


def check_loops(plan: Plan, untold: Untold) -> Iterator[Fault]:
    """No rule drives itself, alone or through others."""
    del untold
    rules_at = dict(placed_rules(plan))
    numbers = {rule.name: path for path, rule in rules_at.items()}
    for loop in rule_loops(plan):
        rules, things = loop[::2], loop[1::2]
        steps = [f'"{short(rule)}" sets {thing}' for rule, thing in zip(rules, things, strict=True)]
        if len(rules) == 1:
            what = f"this rule reads what it sets itself: {steps[0]}"
            remedy = f"Drop the test of {things[0]}: setting it twice does no harm."
        else:
            chain_text = ", which is read by ".join((*steps, f'"{short(rules[0])}"'))
            what = f"rules drive each other in a circle: {chain_text}"
            remedy = f'Drop the test of {things[-1]} from "{short(rules[0])}", or another of these tests.'
        path = numbers[rules[0]]
        reads_it = things[-1] in things_in(plan, rules_at[path].when)
        yield Fault((*path, "when" if reads_it else "while"), "rules-in-a-circle", what, remedy)
