"""What rules may speak of, and what derived signals are made of."""

import re
from importlib.resources import files
from pathlib import Path
from typing import get_args

import pytest

from stillwell.plan.check_rules import RESERVED
from stillwell.plan.kinds import (
    ALSO_CALLED,
    CAUSED_BY_RESIDENT,
    DERIVED_PULSES,
    HAZARD_PARTS,
    HAZARDS_AT_OPENINGS,
    SIGNALS_OF,
    SWITCHED,
)
from stillwell.plan.model import HazardKind, PartKind
from stillwell.plan.names import base_signals_of_life, names_of, signal_order, signals_of
from stillwell.plan.read import read_plan
from stillwell.rules.kinds import LEVEL, PULSE, Kind, SignalType

pytestmark = pytest.mark.base

SMALL = Path(__file__).with_name("small.toml").read_text("utf-8")


def plan_with(signals: str = "", parts: str = ""):
    return read_plan(SMALL.replace("[signals]\n", f"{parts}\n[signals]\n{signals}\n"), "home.toml")


def test_a_part_gives_what_its_kind_gives_and_whether_it_is_lost():
    signals = signals_of(plan_with())
    given = {name: kind for name, kind in signals.items() if name.startswith("front_contact.")}
    assert given == {
        "front_contact.open": LEVEL,
        "front_contact.opened": PULSE,
        "front_contact.closed": PULSE,
        "front_contact.lost": LEVEL,
        "front_contact.battery": SignalType(Kind.NUMBER, "%"),
    }


def test_a_part_on_mains_has_no_battery():
    signals = signals_of(plan_with(parts='[parts.siren]\nkind = "sounder"\npower = "mains"\n'))
    assert {name for name in signals if name.startswith("siren.")} == {"siren.on", "siren.lost"}
    assert "hall_lamp.battery" not in signals


def test_derived_signals_have_the_kind_of_their_formula():
    signals = signals_of(plan_with('cold = "bedroom_temp.temperature < 14C"\ngets_cold = "start of cold"'))
    assert signals["cold"] == LEVEL
    assert signals["gets_cold"] == PULSE
    assert signals["sign_of_life"] == PULSE


def test_derived_signals_come_after_those_they_need():
    order = signal_order(plan_with('a = "b or c"\nb = "c or door_opens"\nc = "sign_of_life"'))
    assert sorted(order) == ["a", "b", "c", "door_opens", "sign_of_life"]
    assert [name for name in order if name in {"a", "b", "c"}] == ["c", "b", "a"]


def test_signs_of_life_are_followed_down_to_the_parts():
    assert base_signals_of_life(plan_with()) == {"hall_pir.movement", "front_contact.opened"}


def test_a_plan_without_signs_of_life_has_none():
    text = SMALL.replace('sign_of_life = "hall_pir.movement or door_opens"\n', "")
    plan = read_plan(text.replace("no sign_of_life for 3h", "no door_opens for 3h"), "home.toml")
    assert base_signals_of_life(plan) == frozenset()


def test_only_parts_that_take_commands_are_switches():
    names = names_of(plan_with())
    assert names.switches == {"hall_lamp", "kettle"}
    assert names.states == {"holiday": ("off", "on")}


def test_the_words_of_the_grammar_are_reserved():
    grammar = files("stillwell.rules").joinpath("grammar.lark").read_text("utf-8")
    rules = "\n".join(line for line in grammar.split("\n") if not line.startswith("//"))
    words = set(re.findall(r'"([a-z]+)"', rules))
    assert "without" in words
    assert words <= RESERVED


def test_every_kind_of_part_has_its_signals_and_every_hazard_its_parts():
    assert set(SIGNALS_OF) == set(get_args(PartKind))
    assert set(HAZARD_PARTS) == set(get_args(HazardKind))
    assert set().union(*HAZARD_PARTS.values(), CAUSED_BY_RESIDENT, SWITCHED) <= set(SIGNALS_OF)
    assert set(HAZARDS_AT_OPENINGS) <= set(HAZARD_PARTS)
    assert all("on" in SIGNALS_OF[kind] for kind in SWITCHED)
    known = {*get_args(PartKind), *get_args(HazardKind), "woman", "man"}
    assert set(ALSO_CALLED.values()) <= known
    assert not set(ALSO_CALLED) & known


def test_edges_of_a_level_belong_to_a_part_that_has_that_level():
    for pulse, (edge, level) in DERIVED_PULSES.items():
        owners = [signals for signals in SIGNALS_OF.values() if pulse in signals]
        assert owners
        assert edge in {"start", "end"}
        assert all(signals[pulse] == PULSE and signals[level] == LEVEL for signals in owners)
