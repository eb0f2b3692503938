"""Laws of learned limits, on any silences."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stillwell.limits.budget import SHORTEST_MS, delay_costs, limits_for, total
from stillwell.limits.climb import PRICES_H, climb, worth
from stillwell.limits.contexts import contexts_of
from stillwell.limits.learn import learn
from stillwell.limits.settings import WEEKS, Settings
from stillwell.limits.silences import Silences
from stillwell.limits.survival import (
    HOUR_MS,
    LIMITS,
    SLOTS,
    STEP_MS,
    STEPS,
    Smoothing,
    around_the_clock,
    counted,
    rates_of,
    silent_h,
)

pytestmark = pytest.mark.base

DAY_MS = 24 * HOUR_MS
DAYS = 9


@st.composite
def silences(draw):
    """Any silences of nine days, some longer than any limit."""
    found = draw(
        st.lists(
            st.tuples(
                st.integers(0, 2), st.integers(0, DAYS - 1), st.integers(0, DAY_MS - 1), st.integers(1, 15 * HOUR_MS)
            ),
            min_size=1,
            max_size=60,
        )
    )
    part, day, clock, length = (np.array(column, np.int64) for column in zip(*found, strict=True))
    return Silences(("hall", "bed", "door"), part, day * DAY_MS + clock, length, day, DAYS)


def rates(found, at_exit=(False, False, True)):
    return rates_of(counted(found.part, found, 3), DAYS, np.array(at_exit), Smoothing())


@settings(max_examples=25, deadline=None)
@given(silences(), st.floats(0.001, 2), st.floats(1, 20))
def test_a_larger_budget_never_gives_a_longer_limit(found, per_day, times):
    eager, patient = learn(found, [per_day * times, per_day], ["door"])
    clock = np.arange(0, DAY_MS, HOUR_MS // 2)
    for part in range(3):
        at = np.full(len(clock), part)
        assert (eager.table.limits(found.parts, at, clock) <= patient.table.limits(found.parts, at, clock)).all()


@settings(max_examples=25, deadline=None)
@given(silences())
def test_limits_stay_between_an_hour_and_the_cap(found):
    for one in learn(found, [1 / 30, 1 / 180]):
        limits = [row.limit_ms for row in one.table.rows]
        assert min(limits) >= SHORTEST_MS
        assert max(limits) <= one.table.longest_ms


@settings(max_examples=40, deadline=None)
@given(silences(), st.floats(0.1, 1e4), st.floats(0.2, 5))
def test_the_best_limit_is_the_best_of_all(found, price, by_day):
    """Against trying every limit of a context, one after the other."""
    known, counts_for = rates(found), worth(Settings(by_day=by_day))
    limits = limits_for(known, [price], counts_for)[0]
    costs = delay_costs(known * counts_for)
    for place, slot in [(0, 0), (1, 17), (2, 40)]:
        every = [
            costs[place, slot, step] + price * known[place, slot, step]
            for step in range(SHORTEST_MS // STEP_MS, LIMITS)
        ]
        at = limits[place, slot] // STEP_MS
        assert costs[place, slot, at] + price * known[place, slot, at] == pytest.approx(min(every))


@settings(max_examples=40, deadline=None)
@given(silences(), st.floats(0.1, 1e4), st.floats(1, 100))
def test_a_higher_price_costs_no_more_alarms(found, price, times):
    known = rates(found)
    cheap, dear = limits_for(known, [price, price * times])
    assert (cheap <= dear).all()
    assert total(known, dear) <= total(known, cheap) + 1e-12


@settings(max_examples=40, deadline=None)
@given(silences())
def test_the_cost_of_a_limit_is_the_integral_by_hand(found):
    """Silences of known length, no smoothing: the integral over every ten minutes of onset, one at a time."""
    lengths = np.minimum(found.length_ms // STEP_MS, STEPS - 1)
    plain = np.zeros((1, 1, LIMITS))
    for length in lengths.tolist():
        plain[0, 0, : length + 1] += 1
    costs = delay_costs(plain)[0, 0]
    for limit in (6, 20, LIMITS - 1):
        by_hand = sum(
            max(limit - onset - 0.5, 0) * (STEP_MS / HOUR_MS) ** 2
            for length in lengths.tolist()
            for onset in range(min(length + 1, limit))
        )
        assert costs[limit] == pytest.approx(by_hand)


@settings(max_examples=40, deadline=None)
@given(silences(), st.floats(0.2, 2.0), st.sampled_from([0.0, 0.5, 1.0]))
def test_lending_neither_adds_nor_loses_a_silence(found, width_h, shear):
    counts = counted(found.part, found, 3)
    assert around_the_clock(counts, width_h, shear).sum() == pytest.approx(counts.sum())


@settings(max_examples=40, deadline=None)
@given(silences())
def test_rates_fall_with_the_length(found):
    known = rates(found)
    assert (np.diff(known, axis=2) <= 1e-12).all()
    assert (known >= 0).all()
    assert silent_h(counted(found.part, found, 3), DAYS).shape == (3, SLOTS)


@settings(max_examples=15, deadline=None)
@given(silences(), st.sampled_from([2, 10, 30]))
def test_bands_give_no_more_false_alarms_than_the_rung_they_stand_for(found, one_in_days):
    """Read off the table, every half-hour of every place, by the smoothed rates."""
    alike = Settings(weeks=WEEKS[:1])
    [one] = learn(found, [1 / one_in_days], ("door",), alike)
    climbed = climb(found, contexts_of(found, ("door",), WEEKS[0], alike), alike)
    parts = [group[0] if group else "any other" for group in climbed.contexts.groups]
    clock = np.arange(SLOTS) * 30 * 60_000
    limits = np.array([one.table.limits(parts, np.full(SLOTS, place), clock) for place in range(len(parts))])
    rung = climbed.ladder[PRICES_H.index(one.price_h)]
    assert total(climbed.rates, limits) <= total(climbed.rates, rung) + 1e-9


@settings(max_examples=15, deadline=None)
@given(silences(), st.integers(0, len(PRICES_H) - 1))
def test_where_all_that_can_come_is_by_day_an_hour_thrice_as_dear_is_an_alarm_thrice_as_cheap(found, rung):
    """From 08:00 to 10:00 the twelve hours of any limit lie before 22:00: only the ratio of the two prices counts."""
    climbed = climb(found, contexts_of(found, (), WEEKS[0], Settings()), Settings(by_day=3.0))
    morning = slice(16, 20)
    expected = limits_for(climbed.rates, [PRICES_H[rung] / 3])[0]
    assert (climbed.ladder[rung][:, morning] == expected[:, morning]).all()


@settings(max_examples=15, deadline=None)
@given(silences(), st.integers(0, len(PRICES_H) - 1))
def test_the_mean_delay_of_a_rung_is_that_of_every_ten_minutes_of_onset_by_hand(found, rung):
    """From 08 to 22 h an onset weighs three times as much: its clock is that of the sign and what it has been quiet."""
    contexts = contexts_of(found, ("door",), WEEKS[1], Settings())
    climbed = climb(found, contexts, Settings())
    whole = weight = 0.0
    for context, slot, length in zip(contexts.context, contexts.slot, found.length_ms, strict=True):
        limit = climbed.ladder[rung, context, slot] // STEP_MS
        for onset in range(min(int(length // STEP_MS) + 1, LIMITS)):
            minute = (slot * 30 + 15 + onset * 10) % (24 * 60)
            weighs = 3 if 8 * 60 <= minute < 22 * 60 else 1
            whole += weighs * max(limit - onset - 0.5, 0) / 6
            weight += weighs
    assert climbed.mean_delay_h(rung) == pytest.approx(whole / weight)
