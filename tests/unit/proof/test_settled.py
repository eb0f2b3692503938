"""A proof says where a history that it does not look at may be worse; the engine shows that such histories exist."""

import numpy as np
import pytest
from tests.smallest import alarm, plan_of

from stillwell.engine import walk
from stillwell.engine.program import compile_plan
from stillwell.proof.prove import prove
from stillwell.record.columns import Pulses, Record

H = 3_600_000
MIDNIGHT = 1767571200000  # Monday 2026-01-05 00:00 in London
LIFE = {
    "parts": {"bed": {"kind": "movement"}, "hall": {"kind": "movement"}},
    "signals": {"sign_of_life": "bed.movement or hall.movement"},
}
AWAY = {"away": {"values": ["off", "on"], "initial": "off"}}


def gone_out(wait):
    return [
        {"name": "out", "when": f"bed.movement without hall.movement within {wait}", "do": ["set away to on"]},
        {"name": "back", "when": "hall.movement", "do": ["set away to off"]},
    ]


def proved(*alarms, **tables):
    return prove(plan_of(**(LIFE | {"alarm": list(alarms)} | tables)), 2026, faults=()).hazards[0]


def never_raised(plan, beds):
    """Run the live engine over movements in the bedroom, in hours from the onset, and for two days after it."""
    times = np.array([MIDNIGHT + round(hours * H) for hours in beds], np.int64)
    record = Record("Europe/London", (MIDNIGHT - 48 * H, MIDNIGHT + 48 * H), {"bed.movement": Pulses(times)})
    outcome = walk.run(compile_plan(plan), record)
    return not any((outcome.fired[one.name] >= MIDNIGHT).any() for one in plan.alarm)


def test_a_timer_that_ends_in_between_is_said_to_be_unsettled_and_is():
    # After 3 h while at home, after 2 h while away. Gone out 6 h after 03:30 before: away from 2 h 30 min on. Neither
    # alarm is then ever raised, though each limit by itself would do.
    alarms = [
        alarm("(sign_of_life without sign_of_life within 3h) and away is off"),
        alarm("(sign_of_life without sign_of_life within 2h) and away is on"),
    ]
    result = proved(*alarms, states=AWAY, aid=gone_out("6h"))
    assert "aid out" in result.unsettled
    plan = plan_of(**LIFE, alarm=alarms, states=AWAY, aid=gone_out("6h"))
    assert result.normal.worst_s is not None
    assert never_raised(plan, [-3.5, 0])


def test_a_timer_that_ends_before_anything_is_decided_is_settled():
    result = proved(alarm("no sign_of_life for 3h", **{"while": "away is off"}), states=AWAY, aid=gone_out("10min"))
    assert result.unsettled == ()
    assert result.normal.worst_s is None  # gone out, says the home


@pytest.mark.parametrize(
    ("guard", "hours"),
    [
        ("no bed.movement for 5h", 5),  # moved in bed last of all
        ("not (3 bed.movement within 12h)", 12),  # turned over three times last of all
        ("not (2 sign_of_life within 7h)", 7),
        ("between 00:00 and 24:00", 3),
    ],
)
def test_what_only_makes_it_later_is_settled_and_as_late_as_it_can_be(guard, hours):
    guards = {} if "between" in guard else {"while": guard}
    result = proved(alarm("no sign_of_life for 3h", **guards))
    assert result.unsettled == ()
    assert result.normal.worst_s == pytest.approx(hours * 3600, abs=0.02)


def with_table(when, **tables):
    rows = [{"from": "07:00", "to": "22:00", "limit": "3h"}]
    return proved(alarm(when), limits={"quiet": {"longest": "8h", "rows": rows}}, **tables)


def test_a_table_is_settled_where_a_later_limit_is_told_later():
    assert with_table("no sign_of_life for limit quiet and between 06:00 and 23:00").unsettled == ()


def test_a_table_that_is_turned_around_is_said_to_be_unsettled():
    when = "not (no sign_of_life for limit quiet) and no sign_of_life for 1h"
    assert with_table(when).unsettled == (f"alarm {when}",)


def test_a_table_that_sets_a_state_is_said_to_be_unsettled():
    asks = [{"name": "ask", "when": "no sign_of_life for limit quiet", "do": ["set away to on"]}]
    assert with_table("away is on for 30min", states=AWAY, aid=asks).unsettled == ("aid ask",)


def test_a_silence_that_sets_a_state_is_said_to_be_unsettled_and_is():
    # Onset 06:00. At 06:30 away is off. Last in bed at 06:00: away comes on at 08:00, and the look at 07:30 tells. Last
    # in bed at 05:00: away comes on at 07:00, and the look at 07:30 finds nothing.
    look = alarm("at 07:30 and away is off and no hall.movement for 1h")
    aids = [
        {"name": "out", "when": "no bed.movement for 2h", "do": ["set away to on"]},
        {"name": "back", "when": "at 06:30", "do": ["set away to off"]},
    ]
    result = proved(look, states=AWAY, aid=aids)
    assert result.unsettled == ("aid out",)
    onset = MIDNIGHT + 30 * H
    assert int(result.told.at(np.array([onset]))[0]) - onset == 1.5 * H + 1
    plan = plan_of(**LIFE, alarm=[look], states=AWAY, aid=aids)
    times = {"bed.movement": np.array([onset - H], np.int64), "hall.movement": np.array([onset], np.int64)}
    span = (onset - 48 * H, onset + 48 * H)
    record = Record("Europe/London", span, {name: Pulses(those) for name, those in times.items()})
    fired = walk.run(compile_plan(plan), record).fired[look["name"]]
    assert min(fired[fired >= onset]) - onset == 25.5 * H


def test_a_silence_that_may_have_been_answered_for_one_room_only_is_said_to_be_unsettled():
    # In bed long ago: that alarm stands, and is asked about again after 30 min, later than the 20 min from the onset.
    assert proved(alarm("no bed.movement for 20min"), alarm("no hall.movement for 35min")).unsettled != ()
    assert proved(alarm("no bed.movement for 30min"), alarm("no hall.movement for 35min")).unsettled == ()
