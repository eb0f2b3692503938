from datetime import date

import numpy as np
import pytest

from stillwell.plan.model import Part
from stillwell.simulate.draws import stream
from stillwell.simulate.habits import Phase
from stillwell.simulate.life import live
from stillwell.simulate.motion import Motion, movement_reports, reported, stirrings, vibration_reports
from stillwell.simulate.walk import Stay

pytestmark = pytest.mark.base


def seconds(*times_s):
    return np.array([round(time_s * 1000) for time_s in times_s], np.int64)


def stay(start_s, end_s, *, still_s=60.0, came=True, passing=False):
    return Stay(
        "hall", start_s * 1000, end_s * 1000, Phase.FORENOON, still_s, 0.9, asleep=False, came=came, passing=passing
    )


# Worked by hand from the words of the plan: hold is how long a report stands, blind how long nothing new is seen.
SEEN = seconds(0, 10, 35, 70, 200, 229.999, 260)


def test_a_standing_report_is_made_longer_by_each_movement():
    part = Part(kind="movement", hold="30s")
    # 0 stands to 30, 10 makes that 40, 35 makes it 65; 70 is new; 229.999 stretches 200 to 259.999
    assert reported(SEEN, part).tolist() == seconds(0, 70, 200, 260).tolist()


def test_a_blind_detector_does_not_make_its_report_longer():
    part = Part(kind="movement", hold="30s", blind="1min")
    # 10 and 35 are not seen, so the report ends at 30 and 70 is new; 229.999 is not seen; at 260 it sees again
    assert reported(SEEN, part).tolist() == seconds(0, 70, 200, 260).tolist()
    part = Part(kind="movement", hold="30s", blind="20s")
    # 10 is not seen; at 35 the report of 0 has ended, its own ends at 65; 229.999 stretches 200 to 259.999
    assert reported(SEEN, part).tolist() == seconds(0, 35, 70, 200, 260).tolist()


def test_a_part_that_sends_every_report_repeats_while_it_stands():
    part = Part(kind="movement", hold="30s", blind="20s", reports="every report")
    assert reported(SEEN, part).tolist() == seconds(0, 35, 70, 200, 229.999, 260).tolist()


def test_steps_and_stirring_lie_within_the_stays():
    stays = [stay(0, 3_000), stay(5_000, 5_008), stay(6_000, 20_000, still_s=200)]
    motion = stirrings(stays, stream(1))
    for times in motion:
        assert (np.diff(times) >= 0).all()
        assert all(any(s.start_ms <= at < s.end_ms for s in stays) for at in times.tolist())
    assert motion.steps.size == 6
    assert motion.stirring.size > 20


def test_a_room_crossed_is_stepped_through_once_and_staying_on_begins_without_steps():
    assert stirrings([stay(0, 6, passing=True)], stream(1)).steps.size == 1
    assert stirrings([stay(0, 600, came=False)], stream(1)).steps.size == 1
    assert stirrings([stay(0, 600)], stream(1)).steps.size == 2
    assert stirrings([], stream(1)).steps.size == 0


def test_somebody_at_rest_moves_less():
    busy, at_rest = (stirrings([stay(0, 36_000, still_s=still_s)], stream(4)).stirring.size for still_s in (60, 600))
    assert busy > 5 * at_rest > 0


def test_a_detector_sees_most_of_what_happens():
    motion = stirrings([stay(0, 360_000, still_s=120)], stream(5))
    seen = movement_reports(motion, Part(kind="movement", hold="1ms"), stream(6)).times
    moved = np.r_[motion.steps, motion.stirring]
    assert set(seen.tolist()) <= set(moved.tolist())
    assert 0.7 * moved.size < seen.size < moved.size


def test_a_door_shakes_when_somebody_goes_through_and_now_and_then_in_the_wind(cabin):
    days = 200
    life = live(cabin, days, 5, date(2026, 1, 12))
    still = Motion(np.empty(0, np.int64), np.empty(0, np.int64))
    passed = {each.at_ms for each in life.passes("shed_door")}
    part = Part(kind="vibration", opening="shed_door", hold="1ms")
    shaken = set(vibration_reports(still, part, life, stream(1)).times.tolist())
    assert passed
    assert passed <= shaken
    # gusts: a Poisson count with mean 0.1 a day, four standard deviations
    assert len(shaken - passed) == pytest.approx(0.1 * days, abs=4 * (0.1 * days) ** 0.5)


def test_a_thing_in_a_room_is_touched_once_in_a_while(cabin):
    life = live(cabin, 30, 5, date(2026, 1, 12))
    motion = stirrings(life.stays_by_room["kitchen"], stream(5))
    felt = vibration_reports(motion, Part(kind="vibration", hold="1ms"), life, stream(1)).times
    assert set(felt.tolist()) <= set(motion.stirring.tolist())
    assert 0 < felt.size < 0.1 * motion.stirring.size
