from datetime import date

import numpy as np
import pytest

from stillwell.plan.model import Plan
from stillwell.problem import Refusal
from stillwell.record.columns import Pulses
from stillwell.simulate.radio import Faults
from stillwell.simulate.run import busy_record, simulate, simulate_with_truth

pytestmark = pytest.mark.base

DAY_MS = 86_400_000
START = date(2026, 1, 12)


@pytest.fixture(scope="module")
def two_months(cabin):
    return simulate_with_truth(cabin, 60, 7, START)


def test_the_record_covers_whole_local_days_and_counts_its_reports(two_months):
    record = two_months.record
    assert record.zone == "Europe/London"
    assert record.span == (1_768_176_000_000, 1_773_360_000_000)  # 2026-01-12 and 2026-03-13, 00:00 GMT
    assert record.events == sum(column.times.size for column in record.signals.values())
    assert record.late == two_months.truth.late > 0
    assert record.malformed == 0


def test_batteries_and_heartbeats_are_reported_by_those_who_have_them(cabin, two_months):
    for name, part in cabin.parts.items():
        assert (f"{name}.battery" in two_months.record.signals) == (part.power == "battery")
        assert (f"{name}.alive" in two_months.record.signals) == (part.heartbeat is not None)


def test_the_truth_shares_the_span_between_home_and_out(two_months):
    truth, span = two_months.truth, two_months.record.span
    lengths = [(spans[:, 1] - spans[:, 0]).sum() for spans in (truth.home, truth.out)]
    assert sum(lengths) == span[1] - span[0]
    ((left, back),) = truth.holiday.tolist()
    assert any(start <= left and back <= end for start, end in truth.out.tolist())
    assert len(truth.visitor) > 3
    assert any(end - start > DAY_MS / 2 for start, end in truth.visitor.tolist())  # who stayed the night


def test_the_resident_is_in_one_room_at_a_time_and_sleeps_in_bed_or_chair(cabin, two_months):
    truth = two_months.truth
    together = np.concatenate([*truth.in_room.values(), truth.out])
    together = together[np.argsort(together[:, 0])]
    assert (together[1:, 0] >= together[:-1, 1]).all()
    slept_h = {room: (s[:, 1] - s[:, 0]).sum() / 3_600_000 / 60 for room, s in truth.asleep.items()}
    assert 6 < slept_h["back_room"] < 10
    assert slept_h["kitchen"] == slept_h["shed"] == 0


def test_the_detector_that_dies_had_a_low_battery_and_the_others_go_on(two_months):
    truth, signals = two_months.truth, two_months.record.signals
    ((name, since_ms),) = truth.dead_since_ms.items()
    own = [column for signal, column in signals.items() if signal.startswith(f"{name}.")]
    assert max(column.times.max() for column in own) < since_ms
    assert signals[f"{name}.battery"].values[-1] <= 15
    assert signals["house_contact.alive"].times.max() > two_months.record.span[1] - DAY_MS / 12


@pytest.mark.parametrize(
    ("days", "seed", "zone", "says"),
    [
        (0, 1, "Europe/London", "at least 1 day"),
        (5, -1, "Europe/London", "from 0 on"),
        (5, 1, "Europe/Londno", "Europe/London"),
    ],
)
def test_what_cannot_be_simulated_is_refused_with_a_remedy(cabin, days, seed, zone, says):
    plan = cabin.model_copy(update={"home": cabin.home.model_copy(update={"timezone": zone})})
    with pytest.raises(Refusal, match=says):
        simulate(plan, days, seed, START)


def test_a_home_without_parts_has_an_empty_record():
    empty = Plan.model_validate({"home": {"name": "Home", "timezone": "UTC"}, "resident": {"name": "Ida"}})
    assert simulate(empty, 3, 1, START).signals == {}
    with pytest.raises(Refusal, match="no part"):
        busy_record(empty)


def test_another_part_changes_nothing_in_the_reports_of_the_rest(cabin):
    parts = {**cabin.parts, "second_pir": cabin.parts["kitchen_pir"]}
    faults = Faults(dying_part="kitchen_pir")
    before = simulate(cabin, 5, 1, START, faults).signals
    after = simulate(cabin.model_copy(update={"parts": parts}), 5, 1, START, faults).signals
    for name, column in before.items():
        assert after[name].times.tobytes() == column.times.tobytes()


def test_a_busy_record_has_about_the_events_asked_for(cabin):
    record = busy_record(cabin, 600_000, seed=3)
    assert record.events == pytest.approx(600_000, rel=0.01)
    assert record.events == sum(column.times.size for column in record.signals.values())
    for column in record.signals.values():
        assert (np.diff(column.times) > 0).all()
        assert record.span[0] <= column.times[0]
        assert column.times[-1] < record.span[1]
        if not isinstance(column, Pulses):
            assert column.values.size == column.times.size
