"""A plan made ready to run: its rules as one graph of operators, children before parents.

Equal formulas become one node. A node's children have smaller numbers than the node, so that counting upwards
evaluates everything in order of dependency.
"""

from collections.abc import Iterable
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from typing import TypeAlias, assert_never

from stillwell.civiltime import HomeTime, Position, find_zone
from stillwell.engine.operators.calendar import Daily, Weekdays, Window
from stillwell.engine.operators.compare import Compare
from stillwell.engine.operators.count import Count
from stillwell.engine.operators.edge import Edge, Fire
from stillwell.engine.operators.follow import Then, Without
from stillwell.engine.operators.held import Held
from stillwell.engine.operators.limits import Limits, Row
from stillwell.engine.operators.logic import AllOf, AnyOf, AnyPulse, Negation, PulseWhile
from stillwell.engine.operators.lost import Lost
from stillwell.engine.operators.reported import LevelReport, NumberReport, PulseReport
from stillwell.engine.operators.settings import Order, State, StateIs, Switched
from stillwell.engine.operators.silence import Silence
from stillwell.engine.tables import Table, Told, table_of
from stillwell.plan.kinds import DERIVED_PULSES, SIGNALS_OF, SWITCHED
from stillwell.plan.model import Aid, Alarm, Plan
from stillwell.problem import refuse
from stillwell.record.columns import FALSE, TRUE
from stillwell.rules import formula as said
from stillwell.rules.formula import Formula, SetState, Switch
from stillwell.rules.kinds import Kind

Operator: TypeAlias = (
    PulseReport
    | LevelReport
    | NumberReport
    | Lost
    | Window
    | Weekdays
    | Daily
    | Compare
    | Negation
    | AllOf
    | AnyOf
    | AnyPulse
    | PulseWhile
    | Held
    | Silence
    | Limits
    | Count
    | Then
    | Without
    | Edge
    | Fire
    | State
    | StateIs
    | Switched
)


@dataclass(frozen=True, slots=True)
class Node:
    """One operator and the numbers of the nodes it works on."""

    operator: Operator
    children: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class RuleNode:
    """Where a rule stands in the graph: ``fires`` its moments, ``condition`` what makes it fire.

    ``hazard`` and ``call`` are empty for an aid. ``of_part`` names the part whose loss this alarm tells of.
    """

    name: str
    fires: int
    condition: int
    hazard: str = ""
    call: str = ""
    of_part: str = ""

    @property
    def is_alarm(self) -> bool:
        """An alarm calls somebody; an aid only does something."""
        return bool(self.hazard)


@dataclass(frozen=True, slots=True)
class Program:
    """A plan's graph.

    ``sources`` maps names of base signals to nodes, ``lost`` parts, ``states`` and ``switched`` likewise; ``named``
    maps the plan's derived signals, ``claims`` holds (text, node) of what must never be.
    """

    nodes: tuple[Node, ...]
    rules: tuple[RuleNode, ...]
    sources: dict[str, int]
    lost: dict[str, int]
    states: dict[str, int]
    switched: dict[str, int]
    named: dict[str, int]
    claims: tuple[tuple[str, int], ...]
    home: HomeTime

    @property
    def alarms(self) -> tuple[RuleNode, ...]:
        """The rules that call somebody, those of lost parts included."""
        return tuple(rule for rule in self.rules if rule.is_alarm)

    def is_pulse(self, node: int) -> bool:
        """Tell whether a node gives pulses rather than a level or number."""
        return isinstance(
            self.nodes[node].operator,
            PulseReport | Daily | AnyPulse | PulseWhile | Then | Without | Edge | Fire,
        )

    def cone(self, targets: Iterable[int], stop: AbstractSet[int] = frozenset()) -> list[int]:
        """Return the nodes that the targets depend on, themselves included, in order.

        Nothing is followed below a node of ``stop``.
        """
        wanted = set(targets)
        stack = list(wanted)
        while stack:
            node = stack.pop()
            if node in stop:
                continue
            for child in self.nodes[node].children:
                if child not in wanted:
                    wanted.add(child)
                    stack.append(child)
        return sorted(wanted)


def home_time(plan: Plan) -> HomeTime:
    """Return the zone and position of the home. Raises Refusal for a zone that does not exist."""
    zone = find_zone(plan.home.timezone)
    if zone is None:
        raise refuse(f"there is no time zone {plan.home.timezone!r}", "Say it as in Europe/London.")
    where = plan.home.position
    return HomeTime(zone, None if where is None else Position(*where))


def compile_plan(plan: Plan) -> Program:
    """Make a checked plan ready to run.

    Raises Refusal where rules drive each other in a circle (a checked plan has none).
    """
    return _Compiler(plan).program()


def compile_formula(plan: Plan, formula: Formula) -> tuple[Program, int]:
    """Make one formula of a plan ready to run; return its program and its node."""
    compiler = _Compiler(plan)
    node = compiler.formula(formula)
    return compiler.whole((), ()), node


class _Compiler:
    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.home = home_time(plan)
        self.nodes: list[Node] = []
        self.numbers: dict[Node, int] = {}
        self.sources: dict[str, int] = {}
        self.lost: dict[str, int] = {}
        self.states: dict[str, int] = {}
        self.switched: dict[str, int] = {}
        self.named: dict[str, int] = {}
        self.rules: dict[tuple[str, str], RuleNode] = {}
        self.open: list[str] = []

    def program(self) -> Program:
        for alarm in self.plan.alarm:
            self.rule("alarm", alarm)
        for aid in self.plan.aid:
            self.rule("aid", aid)
        for name in self.plan.signals:
            self.derived(name)
        for name in self.plan.states:
            self.state(name)
        for name, part in self.plan.parts.items():
            if part.kind in SWITCHED:
                self.switch(name)
            elif part.supervision is not None:
                self.part_lost(name)
        claims = tuple((never.claim.text, self.formula(never.claim.formula)) for never in self.plan.never)
        rules = [self.rules["alarm", alarm.name] for alarm in self.plan.alarm]
        rules += [self.rules["aid", aid.name] for aid in self.plan.aid]
        rules += self.lost_part_alarms()
        return self.whole(tuple(rules), claims)

    def whole(self, rules: tuple[RuleNode, ...], claims: tuple[tuple[str, int], ...]) -> Program:
        return Program(
            tuple(self.nodes),
            rules,
            self.sources,
            self.lost,
            self.states,
            self.switched,
            self.named,
            claims,
            self.home,
        )

    def lost_part_alarms(self) -> list[RuleNode]:
        if self.plan.upkeep is None:
            return []
        found = []
        for part, condition in sorted(self.lost.items()):
            if self.plan.parts[part].supervision is not None:
                name = f"{part} has stopped reporting"
                fires = self.intern(Fire(name, of_pulse=False), condition)
                found.append(RuleNode(name, fires, condition, "blind", self.plan.upkeep.call, part))
        return found

    def intern(self, operator: Operator, *children: int) -> int:
        node = Node(operator, children)
        if node not in self.numbers:
            self.numbers[node] = len(self.nodes)
            self.nodes.append(node)
        return self.numbers[node]

    def is_pulse(self, node: int) -> bool:
        return Program.is_pulse(self, node)  # type: ignore[arg-type]

    def enter(self, what: str) -> None:
        if what in self.open:
            circle = [*self.open[self.open.index(what) :], what]
            raise refuse(
                "these drive each other in a circle: " + " -> ".join(circle),
                "Let one of them no longer depend on the others.",
            )
        self.open.append(what)

    def rule(self, sort: str, rule: Alarm | Aid) -> RuleNode:
        key = (sort, rule.name)
        if key not in self.rules:
            self.enter(f'{sort} "{rule.name}"')
            parts = [rule.when.formula] + ([rule.while_.formula] if rule.while_ is not None else [])
            condition = self.formula(said.And(tuple(parts)) if len(parts) > 1 else parts[0])
            fires = self.intern(Fire(f"{sort} {rule.name}", self.is_pulse(condition)), condition)
            hazard, call = (rule.hazard, rule.call) if isinstance(rule, Alarm) else ("", "")
            self.rules[key] = RuleNode(rule.name, fires, condition, hazard, call)
            self.open.pop()
        return self.rules[key]

    def setters(self, wanted: type[Switch] | type[SetState], name: str) -> list[tuple[int, Switch | SetState]]:
        """Return (node of the rule's moments, action) for each action on a part or state, in the plan's order."""
        found: list[tuple[int, Switch | SetState]] = []
        both: list[tuple[str, Alarm | Aid]] = [("alarm", one) for one in self.plan.alarm]
        both += [("aid", one) for one in self.plan.aid]
        for sort, rule in both:
            for deed in rule.do:
                target = deed.action.part if isinstance(deed.action, Switch) else deed.action.state
                if isinstance(deed.action, wanted) and target == name:
                    found.append((self.rule(sort, rule).fires, deed.action))
        return found

    def part_lost(self, part: str) -> int:
        if part not in self.lost:
            self.lost[part] = self.intern(Lost(part, self.plan.parts[part].supervision))
        return self.lost[part]

    def state(self, name: str) -> int:
        if name not in self.states:
            self.enter(name)
            state = self.plan.states[name]
            setters = self.setters(SetState, name)
            values = tuple(state.values.index(action.value) for _, action in setters if isinstance(action, SetState))
            operator = State(name, state.values, state.values.index(state.initial), values)
            self.states[name] = self.intern(operator, *(node for node, _ in setters))
            self.open.pop()
        return self.states[name]

    def switch(self, part: str) -> int:
        if part not in self.switched:
            self.enter(part)
            lost = self.part_lost(part)
            setters = self.setters(Switch, part)
            orders = tuple(Order(action.on, action.for_ms) for _, action in setters if isinstance(action, Switch))
            self.switched[part] = self.intern(Switched(part, orders), lost, *(node for node, _ in setters))
            self.open.pop()
        return self.switched[part]

    def derived(self, name: str) -> int:
        if name not in self.named:
            self.enter(name)
            self.named[name] = self.formula(self.plan.signals[name].formula)
            self.open.pop()
        return self.named[name]

    def signal(self, name: str) -> int:
        if name in self.plan.signals:
            return self.derived(name)
        part, _, word = name.partition(".")
        if word == "lost":
            return self.part_lost(part)
        kind = self.plan.parts[part].kind
        if word in DERIVED_PULSES and word in SIGNALS_OF[kind]:
            edge, level = DERIVED_PULSES[word]
            return self.intern(Edge(TRUE if edge == "start" else FALSE), self.signal(f"{part}.{level}"))
        if word == "on" and kind in SWITCHED:
            return self.switch(part)
        return self.source(name, part, word, kind)

    def source(self, name: str, part: str, word: str, kind: str) -> int:
        if name not in self.sources:
            lost = self.part_lost(part)
            carries = Kind.NUMBER if word == "battery" else SIGNALS_OF[kind][word].kind
            match carries:
                case Kind.PULSE:
                    self.sources[name] = self.intern(PulseReport(name))
                case Kind.LEVEL:
                    self.sources[name] = self.intern(LevelReport(name), lost)
                case Kind.NUMBER:
                    self.sources[name] = self.intern(NumberReport(name), lost)
                case _:
                    assert_never(carries)
        return self.sources[name]

    def formula(self, formula: Formula) -> int:
        match formula:
            case said.Signal():
                return self.signal(formula.name)
            case said.StateIs():
                values = self.plan.states[formula.state].values
                return self.intern(StateIs(values.index(formula.value)), self.state(formula.state))
            case said.Compare():
                return self.intern(Compare(formula.op, formula.number), self.signal(formula.name))
            case said.Between():
                return self.intern(Window(self.home, formula.start, formula.end))
            case said.OnDays():
                return self.intern(Weekdays(self.home, formula.days))
            case said.At():
                return self.intern(Daily(self.home, formula.time))
            case said.Not():
                return self.intern(Negation(), self.formula(formula.body))
            case said.And():
                return self.all_of(formula)
            case said.Or():
                parts = [self.formula(part) for part in formula.parts]
                return self.intern(AnyPulse() if self.is_pulse(parts[0]) else AnyOf(), *parts)
            case said.HeldFor():
                return self.intern(Held(formula.duration_ms), self.formula(formula.body))
            case said.NoneFor():
                return self.intern(Silence(formula.duration_ms), self.formula(formula.body))
            case said.NoneForLimit():
                return self.limits(formula.limit)
            case said.CountWithin():
                return self.intern(Count(formula.count, formula.duration_ms), self.formula(formula.body))
            case said.Then():
                operator: Operator = Then(formula.duration_ms)
                return self.intern(operator, self.formula(formula.first), self.formula(formula.second))
            case said.Without():
                operator = Without(formula.duration_ms)
                return self.intern(operator, self.formula(formula.first), self.formula(formula.second))
            case said.StartOf():
                return self.intern(Edge(TRUE), self.formula(formula.body))
            case said.EndOf():
                return self.intern(Edge(FALSE), self.formula(formula.body))
            case _:
                assert_never(formula)

    def limits(self, name: str) -> int:
        limits = self.plan.limits[name]
        table = table_of(self.plan, limits)
        sorts = [self.intern(AnyPulse(apart=True), *map(self.formula, signs)) for signs in table.sorts]
        levels: list[int] = []
        rows = []
        for told in table.rows:
            applies = self.applies(table, told)
            if applies is not None and applies not in levels:
                levels.append(applies)
            child = None if applies is None else len(sorts) + levels.index(applies)
            rows.append(Row(told.limit_ms, told.sorts, child))
        return self.intern(Limits(tuple(rows), limits.longest, len(sorts)), *sorts, *levels)

    def applies(self, table: Table, row: Told) -> int | None:
        parts = [] if row.hours is None else [self.formula(row.hours)]
        if row.after_door_ms is not None:
            doors = self.intern(AnyPulse(apart=True), *map(self.formula, table.doors))
            parts.append(self.intern(Count(1, row.after_door_ms), doors))
        return self.intern(AllOf(), *parts) if len(parts) > 1 else next(iter(parts), None)

    def all_of(self, formula: said.And) -> int:
        parts = [self.formula(part) for part in formula.parts]
        pulses = [part for part in parts if self.is_pulse(part)]
        if not pulses:
            return self.intern(AllOf(), *parts)
        levels = [part for part in parts if not self.is_pulse(part)]
        return self.intern(PulseWhile(len(pulses)), *pulses, *levels)
