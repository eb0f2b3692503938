"""A learned table in the plan's own words says the same of every sign of life as it did before."""

import numpy as np
import pytest
from tests.smallest import alarm, plan_of
from tests.unit.limits import row_home

from stillwell.limits.signs import heard
from stillwell.limits.table import LimitRow, LimitTable
from stillwell.limits.written import CALL, plan_table, waits_for, write_proposal
from stillwell.plan.read import read_plan
from stillwell.plan.texts import EVERY_DAY
from stillwell.record.columns import FALSE, TRUE, UNKNOWN, Pulses, Record, Steps

pytestmark = pytest.mark.base

HOUR = 3_600_000
SQUARE = [[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0]]


def plan():
    return plan_of(
        rooms={"bedroom": {"outline": SQUARE}, "hall": {"outline": [[x + 4, y] for x, y in SQUARE]}},
        openings={"front_door": {"kind": "door", "rooms": ["hall", "outside"]}},
        parts={
            "bedroom_pir": {"kind": "movement", "room": "bedroom"},
            "hall_pir": {"kind": "movement", "room": "hall"},
            "front_contact": {"kind": "contact", "room": "hall", "opening": "front_door"},
        },
        signals={
            "sign_of_life": "bedroom_pir.movement or hall_pir.movement or front_contact.opened or front_contact.closed"
        },
    )


def row(part, start, end, hours, days=EVERY_DAY):
    return LimitRow((part,), start * 60, end * 60, days, round(hours * HOUR))


def said(table):
    rows = [each.model_dump(mode="json", by_alias=True, exclude_defaults=True) for each in table.rows]
    return [tuple(each.values()) for each in rows]


def test_a_part_alone_in_its_room_is_the_room_one_of_several_is_itself():
    table = LimitTable(
        (row("bedroom_pir", 0, 24, 8), row("hall_pir", 0, 24, 3), row("front_contact", 0, 24, 9)), 43_200_000
    )
    found = plan_table(plan(), table, "why")
    assert said(found) == [
        ("bedroom", "8h"),
        ("hall_pir.movement", "3h"),
        ("front_contact.closed", "9h"),
        ("front_contact.opened", "9h"),
    ]
    assert (found.longest, found.why) == (43_200_000, "why")


def test_parts_of_one_room_learned_together_are_the_room():
    table = LimitTable((LimitRow(("hall_pir", "front_contact"), 0, 1440, EVERY_DAY, HOUR),), 43_200_000)
    learned = LimitTable((*table.rows, row("bedroom_pir", 0, 24, 8)), 43_200_000)
    assert said(plan_table(plan(), learned, "")) == [("hall", "1h"), ("bedroom", "8h")]


def test_a_night_is_one_row():
    table = LimitTable(
        (row("bedroom_pir", 0, 7, 9), row("bedroom_pir", 7, 22, 3), row("bedroom_pir", 22, 24, 9)), 43_200_000
    )
    assert said(plan_table(plan(), table, "")) == [
        ("bedroom", "07:00", "22:00", "3h"),
        ("bedroom", "22:00", "07:00", "9h"),
    ]


def test_workdays_and_weekends_stay_apart():
    days = frozenset(range(5)), frozenset((5, 6))
    rows = [row("bedroom_pir", 0, 24, hours, days) for hours, days in zip((2, 3), days, strict=True)]
    table = LimitTable(tuple(rows), 43_200_000)
    assert said(plan_table(plan(), table, "")) == [("bedroom", "weekdays", "2h"), ("bedroom", "weekends", "3h")]


def test_a_table_of_no_part_is_of_all():
    table = LimitTable(
        (LimitRow((), 0, 720, EVERY_DAY, HOUR), LimitRow((), 720, 1440, EVERY_DAY, 2 * HOUR)), 43_200_000
    )
    assert said(plan_table(plan(), table, "")) == [("00:00", "12:00", "1h"), ("12:00", "00:00", "2h")]


TEXT = row_home.TEXT + 'while = "between 06:00 and 23:00"\n'


def test_it_is_written_beside_what_is_there_and_an_alarm_waits_for_it():
    before = read_plan(TEXT, "home.toml")
    table = plan_table(before, LimitTable((row("kitchen_pir", 0, 24, 3),), 43_200_000), "Learned.")
    text = write_proposal(TEXT, before, {"question": table, CALL: table})
    after = read_plan(text, "home.toml")
    assert [line for line in TEXT.splitlines() if line not in text.splitlines()] == []
    assert set(after.limits) == {"question", CALL}
    assert after.limits[CALL] == table
    new = after.alarm[-1]
    # what was learned holds at every hour, so the window of the old alarm is not taken over
    assert (new.when.text, new.while_, new.call) == ("no sign_of_life for limit call", None, "family")
    assert after.alarm[:-1] == before.alarm


def test_what_must_hold_besides_the_hour_is_taken_over():
    text = TEXT.replace('while = "between 06:00 and 23:00"', 'while = "away is off"')
    text += """
[states.away]
values = ["off", "on"]
initial = "off"
"""
    before = read_plan(text, "home.toml")
    table = plan_table(before, LimitTable((row("kitchen_pir", 0, 24, 3),), 43_200_000), "Learned.")
    after = read_plan(write_proposal(text, before, {CALL: table}), "home.toml")
    assert after.alarm[-1].while_.text == "away is off"


def test_the_question_sounds_in_the_home_where_something_can():
    sounders = """
[parts.lounge_sounder]
kind = "sounder"
room = "lounge"

[rooms.porch]
use = "outside"
outline = [[0, -2], [2, -2], [2, 0], [0, 0]]

[parts.porch_sounder]
kind = "sounder"
room = "porch"
"""
    before = read_plan(TEXT + sounders, "home.toml")
    table = plan_table(before, LimitTable((row("kitchen_pir", 0, 24, 3),), 43_200_000), "Learned.")
    text = write_proposal(TEXT + sounders, before, {"question": table, CALL: table})
    after = read_plan(text, "home.toml")
    [asked] = after.aid
    assert (asked.when.text, asked.while_) == ("no sign_of_life for limit question", None)
    assert [deed.text for deed in asked.do] == ["lounge_sounder on for 1min"]
    assert write_proposal(text, after, {"question": table, CALL: table}) == text
    assert read_plan(write_proposal(TEXT, read_plan(TEXT, "home.toml"), {"question": table}), "home.toml").aid == ()


def test_written_again_it_changes_only_the_limits():
    before = read_plan(TEXT, "home.toml")
    first = plan_table(before, LimitTable((row("kitchen_pir", 0, 24, 3),), 43_200_000), "Learned.")
    second = plan_table(before, LimitTable((row("kitchen_pir", 0, 24, 4),), 43_200_000), "Learned.")
    once = write_proposal(TEXT, before, {CALL: first})
    twice = write_proposal(once, read_plan(once, "home.toml"), {CALL: second})
    assert read_plan(twice, "home.toml").limits[CALL] == second
    assert len(read_plan(twice, "home.toml").alarm) == 2
    changed = [pair for pair in zip(once.splitlines(), twice.splitlines(), strict=True) if pair[0] != pair[1]]
    assert len(changed) == 1


def test_a_plan_that_waits_for_the_table_already_gets_no_second_alarm():
    waiting = plan_of(
        **plan().model_dump(mode="json", by_alias=True, include={"rooms", "openings", "parts", "signals"}),
        limits={"call": {"longest": "12h"}},
        alarm=[alarm("no sign_of_life for limit call")],
    )
    assert waits_for(waiting, "call")
    assert not waits_for(waiting, "question")


def test_a_record_is_heard_as_the_plan_hears_it():
    door = Steps(
        np.array([0, 10, 20, 30, 40, 50]),
        np.array([FALSE, TRUE, TRUE, UNKNOWN, TRUE, FALSE], "int8"),
    )
    pulses = Pulses(np.array([5, 15]))
    record = Record("Europe/London", (0, 60), {"front_contact.open": door, "hall_pir.movement": pulses})
    whole, names = heard(plan(), record)
    assert names == ("front_contact.closed", "front_contact.opened", "hall_pir.movement")
    assert whole.signals["front_contact.opened"].times.tolist() == [10]
    assert whole.signals["front_contact.closed"].times.tolist() == [50]
