"""What a person at the watch can do: pause, drill, shelve, answer, change the plan."""

import json

import pytest
from tests.smallest import alarm, plan_of

from stillwell.alarms.events import Shelved, TakenOut
from stillwell.alarms.life import State
from stillwell.watch.home import DRILL, LONGEST_PAUSE_MS, Home

pytestmark = pytest.mark.base

HOUR_MS = 3_600_000
START_MS = 1_772_496_000_000

PARTS = {"parts": {"hall": {"kind": "movement"}, "cellar": {"kind": "water"}}}
HAZARDS = [
    {"name": "collapse", "kind": "collapse", "deadline": {"day": "4h", "night": "9h"}},
    {"name": "flood", "kind": "water", "deadline": {"day": "1h", "night": "1h"}},
]


def home(limit: str = "3h") -> Home:
    alarms = [
        alarm(f"no hall.movement for {limit}", name="still"),
        alarm("cellar.wet", name="water", hazard="flood"),
    ]
    return Home(plan_of(**PARTS, hazard=HAZARDS, alarm=alarms), START_MS)


def people_told(work) -> list[tuple[str, int]]:
    return [(message.alarm, message.at_ms - START_MS) for message in work.messages]


def test_silence_is_told_and_an_answer_is_kept():
    watched = home()
    assert people_told(watched.pass_time(START_MS + 3 * HOUR_MS))[:1] == [("still", 3 * HOUR_MS)]
    work = watched.answer(START_MS + 3 * HOUR_MS + 5000, "still", "ben", "looking")
    assert [(fact.what, fact.by) for fact in work.facts][:1] == [("answered looking", "ben")]
    assert watched.alarms["still"].life.state is State.ACKNOWLEDGED
    # still true after half an hour: it asks again
    again = watched.pass_time(START_MS + 4 * HOUR_MS)
    assert people_told(again)[0] == ("still", 3 * HOUR_MS + 5000 + 1_800_000)


def test_a_pause_is_bounded_shown_and_does_not_silence_water():
    watched = home()
    work = watched.pause_until(START_MS + HOUR_MS, START_MS + 90 * HOUR_MS, "edda", "wants to be left alone")
    assert (work.facts[-1].what, work.facts[-1].by, work.facts[-1].why) == ("paused", "edda", "wants to be left alone")
    assert watched.pause is not None
    assert watched.pause.until_ms == START_MS + HOUR_MS + LONGEST_PAUSE_MS
    assert people_told(watched.pass_time(START_MS + 10 * HOUR_MS)) == []
    assert people_told(watched.report(START_MS + 11 * HOUR_MS, [("cellar.wet", 1)])) == [("water", 11 * HOUR_MS)]
    after = [told for told in people_told(watched.pass_time(START_MS + 26 * HOUR_MS)) if told[0] == "still"]
    assert after[0] == ("still", 25 * HOUR_MS)  # what is still true when the pause ends is told then


def test_a_pause_can_be_ended_early():
    watched = home()
    watched.pause_until(START_MS + HOUR_MS, START_MS + 20 * HOUR_MS, "edda", "")
    watched.pass_time(START_MS + 5 * HOUR_MS)
    assert people_told(watched.end_pause(START_MS + 6 * HOUR_MS, "edda")) == [("still", 6 * HOUR_MS)]


def test_a_drill_rings_through_is_marked_and_ends_with_its_answer():
    watched = home()
    work = watched.drill(START_MS + HOUR_MS, "water", "tom")
    assert [(message.alarm, message.drill) for message in work.messages] == [(f"{DRILL}water", True)]
    watched.answer(START_MS + HOUR_MS + 1000, f"{DRILL}water", "ben", "well")
    assert people_told(watched.pass_time(START_MS + 2 * HOUR_MS)) == []
    assert watched.alarms["water"].life.state is State.NORMAL


def test_a_shelved_alarm_comes_back_when_its_time_is_up():
    watched = home()
    watched.pass_time(START_MS + 3 * HOUR_MS)
    watched.operate(START_MS + 3 * HOUR_MS, "still", Shelved("tom", START_MS + 5 * HOUR_MS), "tom", "away today")
    assert people_told(watched.pass_time(START_MS + 5 * HOUR_MS - 1)) == []
    assert people_told(watched.pass_time(START_MS + 5 * HOUR_MS)) == [("still", 5 * HOUR_MS)]


def test_a_changed_plan_keeps_its_timers_and_a_changed_limit_goes_on_from_the_last_sign():
    watched = home("3h")
    watched.report(START_MS + HOUR_MS, [("hall.movement", 1)])
    changed = plan_of(
        **PARTS,
        hazard=HAZARDS,
        alarm=[
            alarm("no hall.movement for 3h", name="still"),
            alarm("no hall.movement for 2h", name="sooner"),
        ],
    )
    watched.change_plan(START_MS + 2 * HOUR_MS, changed, "tom")
    assert "water" not in watched.alarms
    watched = Home.resume(changed, json.loads(json.dumps(watched.snapshot())))
    told = people_told(watched.pass_time(START_MS + 4 * HOUR_MS))
    # both go on from the movement that the old plan heard: a limit made shorter must not tell later for it
    assert ("still", 4 * HOUR_MS) in told
    assert min(at for name, at in told if name == "sooner") == 3 * HOUR_MS


def test_what_somebody_has_shelved_outlives_a_pause_and_its_early_end():
    watched = home()
    watched.report(START_MS + 1, [("cellar.wet", 1), ("hall.movement", 1)])
    shelf_ms = START_MS + 30 * HOUR_MS
    watched.operate(START_MS + 2, "still", Shelved("ben", shelf_ms), "ben", "away")
    watched.pause_until(START_MS + 3, START_MS + 20 * HOUR_MS, "edda", "visitors")
    watched.pass_time(START_MS + 5 * HOUR_MS)  # its condition comes true meanwhile
    assert watched.alarms["still"].life.shelved_until_ms == shelf_ms
    watched.end_pause(START_MS + 6 * HOUR_MS, "edda")
    assert watched.alarms["still"].life.state is State.SHELVED
    assert watched.alarms["water"].life.state is State.UNACKNOWLEDGED


def test_an_alarm_out_of_service_is_not_put_on_the_shelf_by_a_pause():
    watched = home()
    watched.operate(START_MS + 1, "still", TakenOut("ben"), "ben", "broken")
    watched.pause_until(START_MS + 2, START_MS + HOUR_MS, "edda", "visitors")
    watched.end_pause(START_MS + 3, "edda")
    assert watched.alarms["still"].life.state is State.OUT_OF_SERVICE


def test_the_answer_to_a_drill_is_kept_with_its_time():
    watched = home()
    watched.drill(START_MS, "water", "edda")
    work = watched.answer(START_MS + 72_500, f"{DRILL}water", "ben", "well")
    kept = [(fact.subject, fact.by, fact.why) for fact in work.facts if fact.what == "drill answered"]
    assert kept == [("water", "ben", "72.5 s after it began")]
    again = watched.answer(START_MS + 80_000, f"{DRILL}water", "ben", "well")
    assert [fact.what for fact in again.facts] == ["answered well"]


def test_the_last_sign_of_life_is_remembered_over_a_restart():
    wet = [alarm("cellar.wet", name="water", hazard="flood")]
    plan = plan_of(**PARTS, hazard=HAZARDS, alarm=wet, signals={"sign_of_life": "hall.movement"})
    watched = Home(plan, START_MS)
    watched.report(START_MS + 1, [("cellar.wet", 1)])
    assert watched.sign is None
    watched.report(START_MS + 2, [("hall.movement", 1)])
    watched.report(START_MS + 3, [("cellar.wet", 0)])
    resumed = Home.resume(plan, json.loads(json.dumps(watched.snapshot())))
    assert resumed.sign == watched.sign
    assert (resumed.sign.at_ms, resumed.sign.signal) == (START_MS + 2, "hall.movement")
    assert resumed.stepper.heard_ms("cellar") == START_MS + 3
    assert resumed.stepper.heard_ms("nobody") is None
    # A state that was stored before this was kept is taken up all the same.
    old = {name: value for name, value in watched.snapshot().items() if name != "sign"}
    assert Home.resume(plan, old).sign is None
