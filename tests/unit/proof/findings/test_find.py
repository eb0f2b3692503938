"""Each finding where it belongs, and its absence where the plan is mended.

The trade's reasons (a second sign of life, a switch beside an automated lamp, supervision of batteries) are common
practice, no source; the figures are worked by hand.
"""

import pytest
from tests.smallest import alarm, plan_of

from stillwell.proof.claims.decide import ClaimResult
from stillwell.proof.findings.find import find
from stillwell.proof.findings.finding import CODES, SEVERITIES
from stillwell.proof.prove import prove

pytestmark = pytest.mark.base

PLACE = {
    "rooms": {
        "hall": {"outline": [[0.0, 0.0], [3.0, 0.0], [3.0, 3.0], [0.0, 3.0]]},
        "kitchen": {"outline": [[3.0, 0.0], [6.0, 0.0], [6.0, 3.0], [3.0, 3.0]]},
    },
    "openings": {"front_door": {"kind": "door", "rooms": ["hall", "outside"]}},
}
PARTS = {
    "controller": {"kind": "controller", "hold_up": "12h"},
    "hall": {"kind": "movement", "room": "hall", "supervision": "1h"},
    "kitchen": {"kind": "movement", "room": "kitchen", "supervision": "1h"},
    "front": {"kind": "contact", "opening": "front_door", "supervision": "1h"},
    "button": {"kind": "push button", "room": "kitchen", "supervision": "1h"},
    "lamp": {"kind": "lamp", "room": "hall", "supervision": "1h"},
    "bell": {"kind": "sounder", "room": "hall", "power": "mains", "supervision": "1h"},
    "cellar": {"kind": "water", "supervision": "1h"},
    "attic": {"kind": "water", "supervision": "1h"},
    "smoke": {"kind": "smoke", "supervision": "1h"},
}
LIFE = {"sign_of_life": "hall.movement or kitchen.movement"}
LIMIT = alarm("no sign_of_life for 50min")


def aid(when, *deeds, **keys):
    return {"name": when, "when": when, "do": list(deeds)} | keys


def parts(**changed):
    return {name: part | changed.get(name, {}) for name, part in PARTS.items()}


def plan(**tables):
    """Return a plan with nothing to find, but for what the test changes."""
    whole = {
        "parts": PARTS,
        "signals": LIFE,
        "alarm": [LIMIT],
        "upkeep": {"call": "family"},
        "people": {
            "ben": {"name": "Ben", "channels": {"text": "1ms", "call": "1s"}, "minutes_to_door": 5},
            "eve": {"name": "Eve", "channels": {"text": "1ms", "call": "1s"}},
        },
        "calls": {
            "family": {
                "steps": [
                    {"whom": ["ben", "eve"], "by": "text", "wait": "1min"},
                    {"whom": ["ben", "eve"], "by": "call", "wait": "1min"},
                ]
            }
        },
        "ways_out": {"internet": ["text"], "mobile": ["call"]},
    }
    return plan_of(zone="UTC", **(PLACE | whole | tables))


def found(**tables):
    return find(prove(plan(**tables), 2026))


def only(code, **tables):
    """Return the one finding of a code."""
    (one,) = [one for one in found(**tables) if one.code == code]
    return one


def codes(**tables):
    return {one.code for one in found(**tables)}


def hazard(kind, name="it", day="1h", night="1h", **keys):
    return {"name": name, "kind": kind, "deadline": {"day": day, "night": night}} | keys


def test_a_sound_plan_has_only_what_every_plan_of_movement_detectors_has():
    assert codes() == {"stuck-part-silences"}


def test_the_order_is_by_gravity_then_code_then_place():
    mixed = found(
        upkeep=None, hazard=[hazard("collapse", "collapse"), hazard("smoke", "fire"), hazard("water", "burst")]
    )
    ranks = [(SEVERITIES.index(one.severity), CODES.index(one.code)) for one in mixed]
    assert ranks == sorted(ranks)
    assert [one.where for one in mixed if one.code == "hazard-without-alarm"] == ['hazard "fire"', 'hazard "burst"']


def test_a_hazard_without_an_alarm():
    one = only("hazard-without-alarm", hazard=[hazard("collapse", "collapse"), hazard("smoke", "fire")])
    assert (one.path, one.where, one.severity) == (("hazard", 1), 'hazard "fire"', "danger")
    fire = alarm("smoke.smoke", hazard="fire")
    mended = codes(hazard=[hazard("collapse", "collapse"), hazard("smoke", "fire")], alarm=[LIMIT, fire])
    assert "hazard-without-alarm" not in mended


def test_a_watch_that_goes_blind_has_its_alarm_in_the_upkeep():
    blind = [hazard("collapse", "collapse"), hazard("blind", "blind")]
    assert "hazard-without-alarm" not in codes(hazard=blind)
    assert only("hazard-without-alarm", hazard=blind, upkeep=None).where == 'hazard "blind"'


def test_a_hazard_that_no_part_can_tell_of():
    gas = [hazard("collapse", "collapse"), hazard("carbon monoxide", "gas")]
    one = only("hazard-without-detector", hazard=gas, alarm=[LIMIT, alarm("smoke.smoke", hazard="gas")])
    assert one.where == 'hazard "gas"'


def test_a_hazard_that_is_never_noticed_at_some_hours():
    water = {"hazard": [hazard("water", "burst", parts=["cellar"])]}
    leak = alarm("start of cellar.wet", hazard="burst", **{"while": "between 06:00 and 22:30 and on mon-fri"})
    one = only("never-noticed", **water, alarm=[leak])
    assert "begins on mon-thu from 22:30 to 06:00, from fri 22:30 to mon 06:00:" in one.text
    assert one.severity == "danger"


def test_a_deadline_that_is_missed_tells_by_how_much_and_at_which_hours():
    # begun at 21:10 or later it is 50 min old when the window has closed, and waits for 07:00: 9 h 50 min, and the
    # millisecond that a message takes; begun at 06:00 it is told a millisecond too late. Both are told to the minute.
    day_only = alarm("no sign_of_life for 50min and between 07:00 and 22:00")
    one = only("deadline-missed", alarm=[day_only])
    assert "every day from 21:10 to 06:01" in one.text
    assert "up to 9h51min" in one.text
    assert "1h are allowed; 8h51min too late" in one.text
    assert (one.path, one.where) == (("hazard", 0, "deadline"), 'hazard "collapse", deadline')


GONE_OUT = [
    aid("front.closed without kitchen.movement within 5min", "set away to on"),
    aid("kitchen.movement", "set away to off"),
]
AWAY = {"away": {"values": ["off", "on"], "initial": "off"}}


def test_silence_after_a_door_taken_for_going_out():
    guarded = alarm("no sign_of_life for 50min", **{"while": "away is off"})
    one = only("taken-for-gone-out", states=AWAY, aid=GONE_OUT, alarm=[guarded])
    assert one.path == ("states", "away")
    assert "(away is on)" in one.text
    assert "taken-for-gone-out" not in codes(states=AWAY, aid=GONE_OUT)


def test_what_the_resident_must_remember():
    buttons = {"out": {"kind": "push button", "supervision": "1h"}} | PARTS
    rules = [aid("out.pressed", "set away to on"), aid("button.pressed", "set away to off")]
    guarded = alarm("no sign_of_life for 50min", **{"while": "away is off"})
    one = only("must-be-remembered", parts=buttons, states=AWAY, aid=rules, alarm=[guarded])
    assert one.path == ("states", "away")
    assert 'left at on rather than off, "collapse" may never be noticed' in one.text


@pytest.mark.parametrize(
    "when",
    [
        "smoke.smoke and not smoke.smoke",
        "between 08:00 and 09:00 and between 10:00 and 11:00",
        "away is on and button.pressed",
        "cellar.lost and cellar.wet",
        "2 button.pressed within 1min and no button.pressed for 1min",
    ],
)
def test_a_rule_that_cannot_fire(when):
    one = only("rule-cannot-fire", states=AWAY, aid=[aid(when, "lamp on")])
    assert (one.path, one.severity) == (("aid", 0, "when"), "warning")


def test_an_alarm_that_cannot_fire_is_a_danger():
    never = alarm("smoke.smoke", **{"while": "away is on"})
    assert only("rule-cannot-fire", states=AWAY, alarm=[LIMIT, never]).severity == "danger"
    assert "rule-cannot-fire" not in codes(
        states=AWAY, alarm=[LIMIT, never], aid=[aid("front.opened", "set away to on")]
    )


def test_an_aid_that_passes_for_the_resident():
    kettle = PARTS | {"kettle": {"kind": "outlet", "supervision": "1h"}}
    life = {"sign_of_life": "hall.movement or start of kettle.power > 500W"}
    one = only("aid-imitates-life", parts=kettle, signals=life, aid=[aid("at 07:00", "kettle on")])
    assert one.where == "signals.sign_of_life"
    assert "aid-imitates-life" not in codes(parts=kettle, signals=life)


def test_a_call_list_that_nobody_answers_at_night():
    sleepers = {
        "ben": {
            "name": "Ben",
            "channels": {"text": "1s"},
            "reachable": "between 07:00 and 23:00",
            "minutes_to_door": 5,
        },
        "eve": {"name": "Eve", "channels": {"text": "1s"}, "reachable": "between 06:00 and 21:00"},
    }
    calls = {"family": {"steps": [{"whom": ["ben", "eve"], "by": "text", "wait": "1min"}]}}
    one = only("nobody-reachable", people=sleepers, calls=calls, ways_out={})
    assert (one.where, one.severity) == ("calls.family", "danger")
    assert "every day from 23:00 to 06:00" in one.text
    assert "up to 7h1min" in one.text  # the message of 22:59:59.001 arrives when Ben's hours are over
    by_morning = [hazard("collapse", "collapse", day="9h", night="9h")]
    assert only("nobody-reachable", people=sleepers, calls=calls, ways_out={}, hazard=by_morning).severity == "note"


def test_a_call_list_on_which_nobody_can_come():
    far = {
        "ben": {"name": "Ben", "channels": {"text": "1ms", "call": "1s"}},
        "eve": {"name": "Eve", "channels": {"text": "1ms", "call": "1s"}},
    }
    assert only("nobody-can-come", people=far).where == "calls.family"


def test_one_person_without_whom_nobody_hears():
    alone = {"ben": {"name": "Ben", "channels": {"text": "1ms", "call": "1s"}, "minutes_to_door": 5}}
    calls = {"family": {"steps": [{"whom": ["ben"], "by": by, "wait": "1min"} for by in ("text", "call")]}}
    assert only("hangs-on-one-person", people=alone, calls=calls).where == "people.ben"


def test_one_way_out_of_the_house():
    one = only("one-way-out", ways_out={"internet": ["text", "call"]})
    assert one.path == ("ways_out", "internet")
    assert "any hazard" in one.text
    assert only("one-way-out", ways_out={}).path == ("calls",)


def test_a_part_that_hides_a_hazard_when_stuck():
    one = only("stuck-part-silences")
    assert one.text.startswith('Any one of hall or kitchen hides "collapse"')
    by_room = alarm("no hall.movement for 50min or no kitchen.movement for 50min")
    assert "stuck-part-silences" not in codes(alarm=[by_room])


FIRE = {
    "hazard": [hazard("collapse", "collapse"), hazard("smoke", "fire")],
    "alarm": [LIMIT, alarm("smoke.smoke", hazard="fire")],
}


def test_one_part_whose_loss_is_told():
    one = only("hangs-on-one-part", **FIRE)
    assert (one.severity, one.path) == ("note", ("parts", "smoke"))
    assert "told within 1h" in one.text


def test_one_part_whose_loss_nobody_hears_of():
    one = only("hangs-on-one-part", **FIRE, upkeep=None)
    assert (one.severity, one.path) == ("danger", ("parts", "smoke"))


def test_a_loss_that_is_told_to_nobody():
    one = only("loss-told-to-nobody", upkeep=None)
    assert one.path == ("parts", "hall", "supervision")


def test_a_battery_that_may_go_flat_unnoticed():
    one = only("battery-not-supervised", parts=parts(attic={"supervision": None}, smoke={"supervision": None}))
    assert one.text.startswith("attic and smoke run on batteries")


def test_two_rules_that_fight_in_one_instant():
    fight = [aid("at 07:00", "lamp on"), aid("between 07:00 and 08:00", "lamp off")]
    one = only("rules-fight", aid=fight)
    assert (one.path, "same instant" in one.text) == (("aid", 1, "do", 0), True)
    assert "rules-fight" not in codes(aid=[aid("at 07:00", "lamp on"), aid("at 08:00", "lamp off")])


def test_two_rules_whose_conditions_hold_together():
    fight = [aid("cellar.wet", "lamp on"), aid("attic.wet", "lamp off")]
    assert "at one time" in only("rules-fight", aid=fight).text
    apart = [aid("cellar.wet", "lamp on"), aid("attic.wet and not cellar.wet", "lamp off")]
    assert "rules-fight" not in codes(aid=apart)


def test_two_buttons_pressed_in_one_millisecond_are_no_fight():
    buttons = {"out": {"kind": "push button", "supervision": "1h"}} | PARTS
    rules = [aid("out.pressed", "set away to on"), aid("button.pressed", "set away to off")]
    assert "rules-fight" not in codes(parts=buttons, states=AWAY, aid=rules)


def test_a_movement_and_the_clock_in_one_millisecond_are_no_fight():
    rules = [aid("at 22:00", "set away to on"), aid("kitchen.movement", "set away to off")]
    assert "rules-fight" not in codes(states=AWAY, aid=rules)


def test_an_aid_that_cuts_an_alarm_s_order_short():
    bell = alarm("smoke.smoke", do=["bell on for 10min", "lamp on for 1h"])
    one = only("cut-short", alarm=[LIMIT, bell], aid=[aid("hall.movement", "lamp on for 5min")])
    assert one.path == ("aid", 0, "do", 0)
    assert '"hall.movement" (on for 5min) ends what "smoke.smoke" began (on for 1h)' in one.text
    longer = [aid("hall.movement", "lamp on for 2h")]
    by_button = [aid("button.pressed", "bell off")]
    assert "cut-short" not in codes(alarm=[LIMIT, bell], aid=longer)
    assert "cut-short" not in codes(alarm=[LIMIT, bell], aid=by_button)


def test_orders_at_other_hours_cut_nothing_short():
    bell = alarm("smoke.smoke", do=["lamp on for 1h"], **{"while": "between 08:00 and 20:00"})
    by_night = aid("hall.movement", "lamp on for 5min", **{"while": "between 22:00 and 06:00"})
    evening = aid("hall.movement", "lamp on for 5min", **{"while": "between 20:30 and 06:00"})
    assert "cut-short" not in codes(alarm=[LIMIT, bell], aid=[by_night])
    assert "cut-short" in codes(alarm=[LIMIT, bell], aid=[evening])


def test_an_alarm_that_two_detectors_share():
    burst = [hazard("collapse", "collapse"), hazard("water", "burst")]
    shared = [LIMIT, alarm("cellar.wet or attic.wet", hazard="burst")]
    one = only("shared-alarm", hazard=burst, alarm=shared)
    assert "stands for attic and cellar together" in one.text
    apart = [LIMIT, alarm("cellar.wet", hazard="burst"), alarm("attic.wet", hazard="burst")]
    assert "shared-alarm" not in codes(hazard=burst, alarm=apart)


def test_a_lamp_that_only_rules_switch():
    dark = [aid("hall.movement", "lamp on for 5min")]
    assert only("lamp-without-switch", parts=parts(lamp={"manual": False}), aid=dark).where == "parts.lamp"
    assert "lamp-without-switch" not in codes(parts=parts(lamp={"manual": False, "room": "kitchen"}), aid=dark)
    assert "lamp-without-switch" not in codes(parts=parts(lamp={"manual": False}))


def test_claims():
    press = [aid("button.pressed", "bell on for 5min")]
    fails = only("claim-fails", aid=press, never=[{"claim": "bell.on"}], parts=parts(bell={"manual": False}))
    assert (fails.path, fails.severity) == (("never", 0, "claim"), "danger")
    by_hand = only(
        "claim-fails-by-hand", aid=press, never=[{"claim": "bell.on for 5min and no button.pressed for 400d"}]
    )
    assert "with bell:" in by_hand.text
    holds = {"aid": press, "parts": parts(bell={"manual": False})}
    assert "claim-fails" not in codes(**holds, never=[{"claim": "bell.on and no button.pressed for 5min"}])


def test_a_claim_that_is_not_decided_is_never_passed_in_silence():
    proof = prove(plan(never=[{"claim": "lamp.on"}]), 2026)
    undecided = ClaimResult(proof.plan.never[0], None, None, "that is too much")
    (one,) = [one for one in find(proof, [undecided]) if one.code.startswith("claim")]
    assert (one.code, one.severity, one.where) == ("claim-undecided", "warning", "never 1, claim")
    assert "The reason: that is too much." in one.text
