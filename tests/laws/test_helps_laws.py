"""What would help any plan does help it, and a rule changed in one place says what it said everywhere else."""

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from tests.laws.proof_plans import plans
from tests.laws.test_rules_laws import formulas

from stillwell.plan.edit import write_plan
from stillwell.plan.model import Rule
from stillwell.plan.names import nodes
from stillwell.plan.read import read_plan
from stillwell.problem import Refusal
from stillwell.proof.helps.find import what_would_help
from stillwell.proof.helps.turned import rebuilt, rewritten
from stillwell.proof.prove import prove
from stillwell.rules.formula import NoneFor, Not, Signal, StateIs
from stillwell.rules.parse import LONGEST_RULE, parse_formula
from stillwell.rules.words import formula_text

pytestmark = pytest.mark.base


@settings(max_examples=6)
@given(plans(("collapse", "water", "wandering")))
def test_every_help_helps(plan):
    text = write_plan(plan)
    try:
        found = what_would_help(text, 2026, "it", most=12)
    except Refusal:
        assume(False)
    assert found.tried <= 12
    for one in found.helps:
        (result,) = prove(read_plan(one.text, "home.toml"), 2026, faults=()).hazards
        assert all(each.share_within > 1 - 1e-11 for each in (result.normal, *result.clock_changes))


@given(formulas().filter(lambda one: len(formula_text(one)) <= LONGEST_RULE - 100), st.data())
def test_a_rule_is_rewritten_in_one_place_only(formula, data):
    rule = Rule(text := formula_text(formula), parse_formula(text))
    old = data.draw(st.sampled_from(list(nodes(rule.formula))))
    new = data.draw(st.sampled_from([Signal("hall.movement"), StateIs("away", "on"), Not(Signal("door.open"))]))
    changed = parse_formula(rewritten(rule, (old, new)))
    wanted = rebuilt(rule.formula, old, new)
    assert changed == parse_formula(formula_text(wanted))


def test_the_words_around_stay_as_they_were_written():
    text = "(hall.movement  or door.opened) without bed.movement within 120s and ((away is off))"
    rule = Rule(text, parse_formula(text))
    (old,) = [node for node in nodes(rule.formula) if node == Signal("bed.movement")]
    assert rewritten(rule, (old, Signal("door.closed"))) == (
        "(hall.movement or door.opened) without door.closed within 120s and ((away is off))"
    )


def test_what_needs_brackets_gets_them():
    rule = Rule(text := "no a.movement for 3h", parse_formula(text))
    (old,) = [node for node in nodes(rule.formula) if isinstance(node, Signal)]
    either = parse_formula("a.movement or b.movement")
    changed = rewritten(rule, (old, either))
    assert changed == "no (a.movement or b.movement) for 3h"
    assert parse_formula(changed) == NoneFor(either, 3 * 3_600_000)
