import numpy as np
import pytest

from stillwell.plan.model import Part
from stillwell.problem import Refusal
from stillwell.record.columns import Pulses, Steps
from stillwell.simulate.draws import stream
from stillwell.simulate.radio import (
    NO_FAULTS,
    Breakdowns,
    Faults,
    Radio,
    battery_reports,
    draw_breakdowns,
    heartbeats,
)
from stillwell.simulate.spans import spans_of

pytestmark = pytest.mark.base

HOUR_MS, DAY_MS = 3_600_000, 86_400_000
SPAN = (1_000 * DAY_MS, 1_060 * DAY_MS)
SOUND = Breakdowns({}, {})
TIMES = np.arange(SPAN[0], SPAN[1], 500_000)


def four_sigma(count, share):
    return 4 * (count * share * (1 - share)) ** 0.5


def sent(cabin, faults=NO_FAULTS, breakdowns=SOUND, column=None, name="back_pir"):
    radio = Radio(cabin, SPAN, faults, breakdowns, seed=1)
    return radio, radio.arrives(name, "movement", column or Pulses(TIMES))


def test_a_sound_radio_changes_nothing(cabin):
    radio, arrived = sent(cabin)
    assert arrived.times.tolist() == TIMES.tolist()
    assert (radio.lost, radio.doubled, radio.late) == (0, 0, 0)


def test_only_what_lies_in_the_span_arrives(cabin):
    _, arrived = sent(cabin, column=Pulses(np.array([SPAN[0] - 1, SPAN[0], SPAN[1] - 1, SPAN[1]])))
    assert arrived.times.tolist() == [SPAN[0], SPAN[1] - 1]


def test_telegrams_are_lost_at_the_rate_asked_for(cabin):
    radio, arrived = sent(cabin, Faults(lost_share=0.1, doubled_share=0, late_share=0))
    assert arrived.times.size == TIMES.size - radio.lost
    assert radio.lost == pytest.approx(0.1 * TIMES.size, abs=four_sigma(TIMES.size, 0.1))


def test_doubled_telegrams_come_again_shortly_after_with_the_same_value(cabin):
    values = np.arange(TIMES.size, dtype=np.float64)
    radio, arrived = sent(cabin, Faults(lost_share=0, doubled_share=0.1, late_share=0), column=Steps(TIMES, values))
    assert arrived.times.size == TIMES.size + radio.doubled
    assert radio.doubled == pytest.approx(0.1 * TIMES.size, abs=four_sigma(TIMES.size, 0.1))
    again = np.flatnonzero(np.diff(arrived.values) == 0)
    assert again.size == radio.doubled
    assert np.diff(arrived.times)[again].max() < 1_000


def test_a_late_telegram_overtakes_nothing_but_is_overtaken(cabin):
    values = np.arange(TIMES.size, dtype=np.float64)
    radio, arrived = sent(cabin, Faults(lost_share=0, doubled_share=0, late_share=0.1), column=Steps(TIMES, values))
    delay = arrived.times - TIMES[arrived.values.astype(int)]
    assert (np.diff(arrived.times) > 0).all()
    assert (delay >= 0).all()
    assert radio.late - 1 <= (delay > 0).sum() <= radio.late  # the very last may fall beyond the span
    assert delay[delay > 0].min() >= 20_000
    assert (np.diff(arrived.values) < 0).any()


def test_a_dead_part_is_silent_for_good_and_a_hub_takes_its_parts_along(cabin):
    breakdowns = Breakdowns(
        {"kitchen_pir": SPAN[0] + 10 * DAY_MS},
        {"hub": spans_of([(SPAN[0] + 20 * DAY_MS, SPAN[0] + 21 * DAY_MS)])},
    )
    _, dead = sent(cabin, breakdowns=breakdowns, name="kitchen_pir")
    assert dead.times.max() < SPAN[0] + 10 * DAY_MS
    for name in ("hub", "back_pir"):
        _, arrived = sent(cabin, breakdowns=breakdowns, name=name)
        day = (arrived.times - SPAN[0]) // DAY_MS
        assert set(range(60)) - set(day.tolist()) == {20}


def test_what_breaks_is_a_movement_detector_in_the_last_quarter_and_a_hub_for_some_hours(cabin):
    for seed in range(20):
        broken = draw_breakdowns(cabin, SPAN, Faults(), seed)
        ((name, since_ms),) = broken.dead_since_ms.items()
        assert cabin.parts[name].kind == "movement"
        assert SPAN[0] + 45 * DAY_MS <= since_ms < SPAN[1]
        ((start, end),) = broken.hub_down["hub"].tolist()
        assert 2 * HOUR_MS <= end - start <= 9 * HOUR_MS
    assert len({*draw_breakdowns(cabin, SPAN, Faults(), 0).dead_since_ms}) == 1


def test_what_breaks_can_be_chosen(cabin):
    broken = draw_breakdowns(cabin, SPAN, Faults(dying_part="fridge", dies_at=0.5, outage=False), 1)
    assert broken.dead_since_ms == {"fridge": SPAN[0] + 30 * DAY_MS}
    assert broken.hub_down == {}
    assert draw_breakdowns(cabin, SPAN, NO_FAULTS, 1) == SOUND


def test_a_part_that_is_to_die_must_exist(cabin):
    with pytest.raises(Refusal, match="hall_pir") as refused:
        draw_breakdowns(cabin, SPAN, Faults(dying_part="hall_pir"), 1)
    assert "kitchen_pir" in refused.value.problems[0].remedy


def test_heartbeats_keep_their_interval():
    beats = heartbeats(Part(kind="movement", heartbeat="1h"), SPAN, stream(1))
    assert SPAN[0] <= beats[0] < SPAN[0] + 1.03 * HOUR_MS
    assert np.abs(np.diff(beats) / HOUR_MS - 1).max() < 0.05
    assert beats.size == pytest.approx(60 * 24, abs=5)
    assert heartbeats(Part(kind="movement"), SPAN, stream(1)).size == 0


def test_a_battery_falls_slowly_and_fast_before_it_dies():
    sound = battery_reports(SPAN, None, stream(1))
    assert sound.times.size == pytest.approx(60, abs=1)
    assert (np.diff(sound.values) <= 0).all()
    assert 1 <= sound.values[0] - sound.values[-1] <= 8
    dies_ms = SPAN[0] + 50 * DAY_MS
    dying = battery_reports(SPAN, dies_ms, stream(1))
    assert dying.values[dying.times < dies_ms][-1] < 12
    assert dying.values[0] == sound.values[0]
