"""Rules that drive each other."""

from pathlib import Path

import pytest

from stillwell.plan.loops import rule_loops, things_read, things_set
from stillwell.plan.model import Aid, Plan
from stillwell.plan.read import read_plan

pytestmark = pytest.mark.base

PLAN = read_plan(Path(__file__).with_name("small.toml").read_text("utf-8"), "home.toml")


def aid(name: str, when: str, *do: str, while_: str | None = None) -> Aid:
    keys = {"name": name, "when": when, "do": list(do)}
    return Aid.model_validate(keys if while_ is None else {**keys, "while": while_})


def loops(*aids: Aid, **signals: str) -> tuple[tuple[str, ...], ...]:
    plan: Plan = PLAN.model_copy(update={"aid": aids, "alarm": ()})
    data = plan.model_dump(by_alias=True)
    data["signals"] = {**data["signals"], **signals}
    for hazard in data["hazard"]:
        hazard.pop("delay")
    return rule_loops(Plan.model_validate(data))


def test_a_plan_without_circles_has_none():
    assert rule_loops(PLAN) == ()


def test_a_rule_that_reads_what_it_sets():
    assert loops(aid("a", "hall_lamp.on", "hall_lamp off")) == (("a", "hall_lamp"),)
    assert loops(aid("a", "door_opens", "set holiday to off", while_="holiday is on")) == (("a", "holiday"),)


def test_two_rules_that_drive_each_other():
    first = aid("a", "hall_lamp.on", "kettle on")
    second = aid("b", "kettle.power > 100W", "hall_lamp on")
    assert loops(first, second) == (("a", "kettle", "b", "hall_lamp"),)


def test_a_circle_through_derived_signals():
    assert loops(aid("a", "lit", "hall_lamp on"), lit="glows", glows="start of hall_lamp.on") == (("a", "hall_lamp"),)


def test_that_a_part_is_lost_is_not_the_doing_of_a_rule():
    assert loops(aid("a", "hall_lamp.lost", "hall_lamp on")) == ()


def test_a_chain_is_no_circle():
    assert loops(aid("a", "door_opens", "hall_lamp on"), aid("b", "hall_lamp.on", "kettle on")) == ()


def test_rules_of_one_name_are_still_two_rules():
    assert loops(aid("a", "door_opens", "hall_lamp on"), aid("a", "hall_lamp.on", "kettle on")) == ()


def test_each_circle_is_told_and_the_shortest_way_round():
    rules = [
        aid("a", "hall_lamp.on", "kettle on"),
        aid("b", "kettle.on", "set holiday to on"),
        aid("c", "holiday is on", "hall_lamp on"),
        aid("d", "kettle.on", "hall_lamp on"),
    ]
    assert loops(*rules) == (("a", "kettle", "d", "hall_lamp"), ("b", "holiday", "c", "hall_lamp", "a", "kettle"))


def test_what_a_rule_sets_and_reads():
    rule = aid(
        "a", "start of kettle.power > 500W", "hall_lamp on for 5min", "set holiday to off", while_="hall_lamp.on"
    )
    assert things_set(rule) == {"hall_lamp", "holiday"}
    assert things_read(PLAN, rule) == {"kettle", "hall_lamp"}
