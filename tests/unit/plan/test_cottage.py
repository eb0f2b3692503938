"""The demo home holds what its remarks promise."""

from pathlib import Path

import pytest

from stillwell.civiltime import ClockTime
from stillwell.plan.loops import rules_of
from stillwell.plan.model import Person
from stillwell.plan.names import base_signals_of_life, signals_of
from stillwell.plan.outline import area_m2
from stillwell.plan.read import read_plan
from stillwell.rules.formula import And, Between, Formula, OnDays, Or, SetState

pytestmark = pytest.mark.base

PLAN = read_plan((Path(__file__).parents[3] / "examples/cottage/home.toml").read_text("utf-8"), "home.toml")


def test_it_has_about_what_a_cottage_has():
    assert len(PLAN.parts) == 27
    assert len(rules_of(PLAN)) == 14
    assert len(PLAN.hazard) == 9
    assert len(PLAN.people) == 5
    assert len(PLAN.never) == 2


def test_every_part_is_supervised_four_heartbeats_long():
    for part in PLAN.parts.values():
        assert part.heartbeat is not None
        assert part.supervision is not None
        assert 4 * part.heartbeat <= part.supervision


def test_the_rooms_indoors_tile_the_cottage():
    indoors = [room for name, room in PLAN.rooms.items() if name not in {"porch", "shed"}]
    assert sum(area_m2(room.outline) for room in indoors) == pytest.approx(8.5 * 7.4)
    corners = [corner for room in indoors for corner in room.outline]
    assert (min(corners), max(corners)) == ((0, 0), (8.5, 7.4))


def test_parts_and_openings_stand_at_the_rooms_they_belong_to():
    for part in PLAN.parts.values():
        if part.place is not None and part.room is not None:
            assert touches(PLAN.rooms[part.room].outline, part.place[:2])
    for opening in PLAN.openings.values():
        assert opening.place is not None
        for name in set(opening.rooms) - {"outside"}:
            assert all(touches(PLAN.rooms[name].outline, point) for point in opening.place)


def touches(outline, point) -> bool:
    """Whether a point lies in or on an upright rectangle, which all rooms of the cottage are."""
    easts, norths = zip(*outline, strict=True)
    return min(easts) <= point[0] <= max(easts) and min(norths) <= point[1] <= max(norths)


def test_every_alarm_has_its_hazard_and_every_hazard_its_alarm():
    assert {alarm.hazard for alarm in PLAN.alarm} == {hazard.name for hazard in PLAN.hazard}


def test_no_rule_causes_a_sign_of_life():
    switched = {
        deed.action.part for rule in rules_of(PLAN) for deed in rule.do if not isinstance(deed.action, SetState)
    }
    assert not {name.partition(".")[0] for name in base_signals_of_life(PLAN)} & switched


def test_signs_of_life_come_from_every_room_indoors():
    parts = {name.partition(".")[0] for name in base_signals_of_life(PLAN)}
    rooms = {PLAN.parts[name].room for name in parts if name != "pendant"}
    assert rooms == {"lounge", "kitchen", "hall", "bedroom", "bathroom"}
    assert base_signals_of_life(PLAN) <= set(signals_of(PLAN))


def test_somebody_of_the_first_urgent_step_can_be_reached_at_every_hour_of_the_week():
    first = [PLAN.people[name] for name in PLAN.calls["urgent"].steps[0].whom]
    for day in range(7):
        for minute in range(0, 1440, 5):
            assert any(reachable(person, day, minute) for person in first), (day, minute)


def reachable(person: Person, day: int, minute: int) -> bool:
    return person.reachable is None or holds(person.reachable.formula, day, minute)


def holds(formula: Formula, day: int, minute: int) -> bool:
    match formula:
        case Between(ClockTime(start), ClockTime(end)):
            return start <= minute < end if start < end else minute >= start or minute < end
        case OnDays():
            return day in formula.days
        case And():
            return all(holds(part, day, minute) for part in formula.parts)
        case Or():
            return any(holds(part, day, minute) for part in formula.parts)
    raise AssertionError(formula)
