from datetime import date

import numpy as np
import pytest

from stillwell.plan.kinds import DERIVED_PULSES, SIGNALS_OF
from stillwell.plan.model import Aid, Part
from stillwell.record.columns import FALSE, TRUE, Pulses
from stillwell.rules.kinds import Kind
from stillwell.simulate.draws import stream
from stillwell.simulate.habits import Phase
from stillwell.simulate.life import live
from stillwell.simulate.parts import Scene, said_by
from stillwell.simulate.radio import heartbeats
from stillwell.simulate.spans import spans_of

pytestmark = pytest.mark.base

MINUTE_MS, DAY_MS = 60_000, 86_400_000
DAYS = 30


@pytest.fixture(scope="module")
def scene(cabin):
    return Scene(cabin, live(cabin, DAYS, 5, date(2026, 1, 12)), 5)


@pytest.fixture(scope="module")
def said(scene):
    span = scene.life.agenda.span
    return {
        name: said_by(name, part, scene, heartbeats(part, span, stream(1, name)))
        for name, part in scene.plan.parts.items()
    }


def true_spans(column):
    """The times at which a level is true, from its reports."""
    ends = np.r_[column.times[1:], column.times[-1] + 1]
    pairs = zip(column.times, ends, column.values, strict=True)
    return spans_of((int(start), int(end)) for start, end, value in pairs if value == TRUE)


def test_every_part_says_what_its_kind_says(cabin, said):
    for name, part in cabin.parts.items():
        kinds = SIGNALS_OF[part.kind]
        assert set(said[name]) == set(kinds) - set(DERIVED_PULSES)
        for signal, column in said[name].items():
            assert isinstance(column, Pulses) == (kinds[signal].kind is Kind.PULSE)
            assert column.times.dtype == np.int64
            if kinds[signal].kind is Kind.LEVEL:
                assert column.values.dtype == np.int8
            if kinds[signal].kind is Kind.NUMBER:
                assert column.values.dtype == np.float64


def test_every_level_is_known_within_a_minute(scene, said):
    start = scene.life.agenda.span[0]
    for own in said.values():
        for column in own.values():
            if not isinstance(column, Pulses) and column.values.dtype == np.int8:
                assert start <= column.times[0] < start + MINUTE_MS


def test_the_house_door_opens_when_somebody_goes_out_and_comes_back(scene, said):
    opened = true_spans(said["house_contact"]["open"])[:, 0]
    absences = scene.life.resident.absences
    assert len(absences) > 5
    assert {each.end_ms for each in absences} <= set(opened.tolist())
    stays = scene.life.resident.stays
    for each in absences:
        came_from = max((stay for stay in stays if stay.end_ms <= each.start_ms), key=lambda stay: stay.end_ms)
        opens = any(came_from.end_ms <= at < each.start_ms for at in opened.tolist())
        assert opens == (came_from.room != "shed")


def test_the_fridge_opens_only_while_somebody_is_in_the_kitchen(scene, said):
    at_hand = spans_of((stay.start_ms, stay.end_ms) for stay in scene.life.stays_by_room["kitchen"])
    opened = true_spans(said["fridge"]["open"])
    assert 5 * DAYS < len(opened) < 100 * DAYS
    for start in opened[:, 0].tolist():
        assert any(a <= start < b for a, b in at_hand.tolist())


def test_windows_are_opened_now_and_then_for_minutes(said):
    opened = true_spans(said["window_contact"]["open"])
    length_min = (opened[:, 1] - opened[:, 0]) / MINUTE_MS
    assert len(opened) > 2
    assert 8 <= length_min.min() < length_min.max() < 120


def test_the_bed_is_taken_at_night(scene, said):
    taken = true_spans(said["bed"]["occupied"])
    asleep = spans_of((s.start_ms, s.end_ms) for s in scene.life.stays_by_room["back_room"] if s.asleep)
    slept_ms, taken_ms = ((spans[:, 1] - spans[:, 0]).sum() for spans in (asleep, taken))
    assert 0.95 * slept_ms < taken_ms <= slept_ms


def test_a_kettle_draws_two_kilowatts_for_some_minutes_a_few_times_a_day(said):
    power = said["kettle"]["power"]
    boiling = power.values > 0
    assert 1_700 < power.values[boiling].min() < power.values.max() < 2_100
    assert DAYS / 2 < boiling.sum() < 15 * DAYS
    assert said["kettle"]["on"].values.tolist() == [TRUE]


def test_what_rules_switch_is_left_to_the_engine(cabin):
    aid = Aid(name="Tea", when="at 23:00", do=("kettle on for 5min",))
    plan = cabin.model_copy(update={"aid": (aid,)})
    scene = Scene(plan, live(plan, 2, 5, date(2026, 1, 12)), 5)
    (only,) = said_by("kettle", plan.parts["kettle"], scene, np.empty(0, np.int64)).items()
    assert only[0] == "on"
    assert only[1].values.tolist() == [FALSE]


def test_what_rules_only_switch_off_is_on_to_begin_with(cabin):
    aid = Aid(name="Off at night", when="at 23:00", do=("kettle off",))
    plan = cabin.model_copy(update={"aid": (aid,)})
    scene = Scene(plan, live(plan, 2, 5, date(2026, 1, 12)), 5)
    said = said_by("kettle", plan.parts["kettle"], scene, np.empty(0, np.int64))
    assert said["on"].values.tolist() == [TRUE]
    assert (said["power"].values > 0).any()


def test_plugs_are_told_apart_by_name_notes_and_room(scene):
    def watts(name, **part):
        power = said_by(name, Part(kind="outlet", power="mains", **part), scene, np.empty(0, np.int64))["power"]
        return power.values.max()

    assert watts("well_pump", room="shed") == pytest.approx(720, rel=0.1)
    assert watts("socket", room="back_room", notes="oil radiator") == pytest.approx(1200, rel=0.1)
    assert watts("socket", room="front_room") == pytest.approx(65, rel=0.1)
    assert watts("socket", room="shed") == 0


def test_a_lamp_is_switched_by_hand_in_the_evening_and_a_fixed_one_never(scene, said):
    lit = true_spans(said["lamp"]["on"])
    dark = [s for s in scene.life.agenda.resident if s.phase in (Phase.EVENING, Phase.BEDTIME)]
    assert DAYS / 2 < len(lit) <= 2 * DAYS
    for start in lit[:, 0].tolist():
        assert any(s.start_ms <= start < s.end_ms for s in dark)
    assert said["fixed_lamp"]["on"].values.tolist() == [FALSE]


def test_buttons_are_pressed_now_and_then_by_somebody_who_is_there(scene):
    presses = [
        said_by(f"button_{number}", Part(kind="push button", room="front_room"), scene, np.empty(0, np.int64))
        for number in range(40)
    ]
    times = np.concatenate([each["pressed"].times for each in presses])
    there = [(s.start_ms, s.end_ms) for s in scene.life.awake_stays("front_room")]
    # a Poisson count with mean 1 in 30 days: four standard deviations
    assert times.size == pytest.approx(DAYS / 30 * 40, abs=4 * (DAYS / 30 * 40) ** 0.5)
    assert all(any(a <= at < b for a, b in there) for at in times.tolist())


def test_the_buttons_for_leaving_and_coming_home_are_pressed_on_a_holiday_only(cabin):
    scene = Scene(cabin, live(cabin, 60, 5, date(2026, 1, 12)), 5)
    (holiday,) = (each for each in scene.life.resident.absences if each.phase is Phase.HOLIDAY)
    pressed = {
        name: said_by(name, Part(kind="push button", room="kitchen", notes=notes), scene, np.empty(0, np.int64))
        for name, notes in {"red_button": "going away", "home_button": ""}.items()
    }
    (leaving,) = pressed["red_button"]["pressed"].times.tolist()
    (coming,) = pressed["home_button"]["pressed"].times.tolist()
    assert holiday.start_ms - MINUTE_MS < leaving < holiday.start_ms
    assert holiday.end_ms < coming < holiday.end_ms + MINUTE_MS


def test_it_stays_dry_and_the_mains_stay_on(said):
    assert set(said["sink_leak"]["wet"].values.tolist()) == {FALSE}
    assert said["smoke"]["smoke"].values.tolist() == [FALSE]
    assert said["co"]["carbon_monoxide"].values.tolist() == [FALSE]
    assert said["panel"]["mains"].values.tolist() == [TRUE]


def test_a_part_that_sends_every_report_repeats_its_level_with_each_heartbeat(said):
    assert said["sink_leak"]["wet"].times.size == pytest.approx(1 + DAYS * 6, abs=3)
