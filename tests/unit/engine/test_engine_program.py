"""A plan as one graph: equal formulas once, children first, circles refused."""

import pytest
from tests.smallest import alarm, plan_of

from stillwell.engine.operators.logic import PulseWhile
from stillwell.engine.operators.silence import Silence
from stillwell.engine.program import compile_formula, compile_plan
from stillwell.problem import Refusal
from stillwell.rules.parse import parse_formula

pytestmark = pytest.mark.base

PARTS = {"hall": {"kind": "movement"}, "door": {"kind": "contact"}, "lamp": {"kind": "lamp"}, "porch": {"kind": "lamp"}}


def operators(program, kind):
    return [node for node in program.nodes if isinstance(node.operator, kind)]


def test_equal_formulas_are_one_node():
    rules = ["no hall.movement for 3h", "no hall.movement for 180min", "(no hall.movement for 3h) and door.open"]
    program = compile_plan(plan_of(parts=PARTS, alarm=[alarm(rule) for rule in rules]))
    assert len(operators(program, Silence)) == 1
    assert program.rules[0].condition == program.rules[1].condition
    assert program.rules[0].fires != program.rules[1].fires


def test_children_stand_before_their_parents():
    aid = {"name": "a", "when": "hall.movement and not door.open", "do": ["lamp on"]}
    program = compile_plan(plan_of(parts=PARTS, aid=[aid], alarm=[alarm("lamp.on for 3h")]))
    assert all(child < number for number, node in enumerate(program.nodes) for child in node.children)
    cone = program.cone([program.alarms[0].condition])
    assert program.sources["hall.movement"] in cone  # through the aid that switches the lamp
    assert program.rules[0].fires not in cone


def test_pulses_come_first_among_what_lets_them_through():
    program, node = compile_formula(plan_of(parts=PARTS), parse_formula("door.open and hall.movement and not lamp.on"))
    assert program.nodes[node].operator == PulseWhile(1)
    kinds = [program.is_pulse(child) for child in program.nodes[node].children]
    assert kinds == [True, False, False]


def test_a_circle_is_refused_with_its_members():
    aids = [
        {"name": "up", "when": "porch.on", "do": ["lamp on"]},
        {"name": "down", "when": "not lamp.on", "do": ["porch off"]},
    ]
    with pytest.raises(Refusal) as refused:
        compile_plan(plan_of(parts=PARTS, aid=aids))
    (problem,) = refused.value.problems
    assert 'aid "up"' in problem.what
    assert 'aid "down"' in problem.what


def test_an_unknown_zone_is_refused():
    with pytest.raises(Refusal, match="Nowhere"):
        compile_plan(plan_of("Europe/Nowhere", parts=PARTS))


def test_losing_a_supervised_part_is_an_alarm_only_where_somebody_looks_after_it():
    parts = PARTS | {"hall": {"kind": "movement", "supervision": "1d"}}
    assert not compile_plan(plan_of(parts=parts)).alarms
    (rule,) = compile_plan(plan_of(parts=parts, upkeep={"call": "family"})).alarms
    assert (rule.of_part, rule.hazard, rule.call) == ("hall", "blind", "family")
