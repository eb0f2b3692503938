"""The published ways of setting limits that learned ones are compared with, checked against their formulas.

Cuddihy, Weisenberg, Graichen and Ganesh, HealthNet 2007; Floeck and Litz, European Control Conference 2009; Moshtaghi,
Zukerman and Russell, User Modeling and User-Adapted Interaction 25 (2015); Wilhelm and Wahl, Sensors 24 (2024) 6583.
The figures are worked by hand, or come from scipy and numpy.
"""

import sys
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))

from tests.unit.limits.lived import DAY, HOUR, MINUTE, at, lived, record_of

from stillwell.limits.published import cuddihy, floeck, moshtaghi, wilhelm
from walkforward import daily, fixed
from walkforward.methods import SWEEPS
from walkforward.stream import NEVER_MS, stream_of


def regular(days=40, hours=range(24)):
    """A sign on every one of these hours of every day, and one more five minutes later."""
    signs = [at(day, hour) + extra for day in range(days) for hour in hours for extra in (0, 5 * MINUTE)]
    return stream_of(record_of({"hall_pir.movement": signs}, (at(0), at(days))))


def waits(stream, told, today):
    """How long after each sign the alarm comes, in hours."""
    return (told - stream.times[today]) / HOUR


def test_cuddihys_percentile_is_the_second_largest_of_sixty():
    """floor(0.97 x 60) = 58, counted from 0 in rising order."""
    silences = np.tile(np.arange(60.0)[:, None], (1, 48))
    # the same in every slot: M = m, UB = 0.30 m, VB = 1/9 x 9 x 0.40 m
    assert cuddihy.alert_line(silences) == pytest.approx(58 * (1 + 0.30 + 0.40))


def test_cuddihys_line_blurs_over_five_slots():
    silences = np.zeros((60, 48))
    silences[:, 20] = 90.0
    line = cuddihy.alert_line(silences)
    weights = {18: 1, 19: 2, 20: 3, 21: 2, 22: 1}
    for slot, weight in weights.items():
        own = 0.30 * 90 if slot == 20 else 0.0
        assert line[slot] == pytest.approx(90 + own + weight * 0.40 * 90 / 9)
    assert line[17] == line[23] == 0


def test_cuddihy_tells_at_half_hours():
    stream = regular()
    past = stream.past(35)
    today = past.today()
    told = cuddihy.alarms(past, today, SWEEPS["Cuddihy 2007"])
    told = told[told < NEVER_MS]
    assert len(told)
    assert (told % (30 * MINUTE) == 0).all()


def test_floecks_curve_is_the_fourth_degree_polynomial_of_least_squares():
    rng = np.random.default_rng(1)
    clock, silent = rng.uniform(0, 1, 400), rng.exponential(1, 400)
    found = floeck.fit(clock, silent)
    assert found == pytest.approx(np.polynomial.Polynomial.fit(clock, silent, 4).convert().coef, rel=1e-6)


def test_floecks_line_with_q_of_0_lies_on_the_highest_spike():
    """No silence of history is above it, and with q above 0 none comes near."""
    stream = stream_of(lived(40))
    past = stream.past(39)
    clock, silent = floeck.silences(stream, 39)
    curve = floeck.fit(clock, silent)
    over = past.over
    at_end = (stream.local[over] + (stream.ends - stream.times)[over]) % DAY / DAY
    above = (stream.ends - stream.times)[over] - floeck.value(curve, at_end)
    spike = max(float(above.max()), float((silent - floeck.value(curve, clock)).max()))
    told = floeck.crossing(stream, over, curve, spike)
    # a tick of five minutes joins the curve by straight lines: a second's error at most
    assert (told >= stream.ends[over] - 1000).all()


def test_moshtaghis_pareto_limit_is_scipys_quantile():
    gaps = stats.pareto.rvs(1.7, scale=60.0, size=50, random_state=4)
    base, slope = moshtaghi.pareto_log_factor(gaps)
    # maximum likelihood with the least value known: shape = n / sum ln(x / least)
    shape, _, scale = stats.pareto.fit(gaps, floc=0, fscale=gaps.min())
    assert (base, 1 / slope) == pytest.approx((scale, shape))
    assert moshtaghi.pareto_limit(gaps, np.array([0.01]))[0] == pytest.approx(
        stats.pareto.isf(0.01, shape, scale=scale)
    )


def test_moshtaghis_exponential_tail_by_hand():
    # from the largest down; std / mean of (8), (8, 2), (8, 2, 1) is 0, 0.6, 0.84, of (8, 2, 1, 0.1) it is 1.13
    gaps = np.array([0.1, 2.0, 8.0, 1.0, 0.1])
    assert moshtaghi.exponential_scale(gaps) == pytest.approx(np.median([8, 2, 1, 0.1]) / np.log(2))
    assert moshtaghi.exponential_limit(gaps, np.array([0.01]))[0] == pytest.approx(1.5 / np.log(2) * np.log(100))


def test_moshtaghis_limit_rises_no_faster_than_the_clock():
    hourly = np.full(24, 1.0 * HOUR)
    hourly[10] = 4.0 * HOUR
    at_start = moshtaghi.clocked(hourly)
    assert at_start[10] == HOUR
    assert at_start[11] == HOUR
    # Silent from 09:05, at 10:00 five minutes short of the hour: from then on limit and silence rise alike, until the
    # limit falls back to an hour at 11:00. Silent from 08:05 it is an hour at 09:05.
    stream = regular()
    past = stream.past(30)
    today = past.today()
    signs = today[np.searchsorted(stream.local[today] % DAY, [9 * HOUR + 5 * MINUTE, 8 * HOUR + 5 * MINUTE])]
    told = moshtaghi.crossing(past, signs, np.tile(hourly, (1, 1, 1)))
    assert waits(stream, told[0], signs) == pytest.approx([115 / 60, 1.0])


def test_moshtaghi_learns_gaps_over_midnight_in_every_hour_they_touch():
    stream = regular(hours=range(8, 23))
    gaps, touched = moshtaghi._touching(stream)
    night = np.flatnonzero(gaps > 8 * HOUR)
    assert len(night) == 39
    assert np.flatnonzero(touched[night[0]]).tolist() == [0, 1, 2, 3, 4, 5, 6, 7, 8, 22, 23]


def test_wilhelms_score_with_certain_signs_is_the_length_of_the_silence():
    """c = 1: each sign ends it, so that z = x."""
    stream = regular()
    assert (wilhelm.scores(stream, 1.0) == 0).all()
    almost = wilhelm.scores(stream, 1 - 1e-9)
    assert almost.max() < 1000


def test_wilhelms_score_by_hand():
    """c = 0.5: age weights of 3 h. One part, signs at 0, 1 h, 4 h: z just after each is worked out by hand."""
    signs = [at(0, 12), at(0, 13), at(0, 16)]
    stream = stream_of(record_of({"hall_pir.movement": [*signs, at(0, 18)]}, (at(0), at(1))))
    # first: age taken as 6 h, w = 1, nothing to cut. After 1 h: w = 1/3, z = 1 h x (1 - 1/6). After 3 more: w = 1.
    expected = [0.0, 5 / 6, (5 / 6 + 3) / 2]
    assert wilhelm.scores(stream, 0.5)[:3] / HOUR == pytest.approx(expected)


def test_wilhelms_bound_is_the_least_of_the_largest_and_the_fence():
    stream = regular()
    scored = wilhelm.Scored(stream, 1.0)
    # a sign every hour and five minutes past: within an hour either way the silence reaches 55 minutes, every day
    assert scored.bound(39) == pytest.approx(55 * MINUTE)


def test_wilhelms_fence_leaves_out_one_odd_day():
    stream = stream_of(lived(40, away=[(at(30, 9), at(30, 18))]))
    scored = wilhelm.Scored(stream, 1.0)
    assert scored.about[30].max() >= 9 * HOUR
    assert scored.bound(39).max() < 6 * HOUR


def test_fixed_and_daily():
    stream = regular()
    past = stream.past(30)
    today = past.today()
    six = fixed.SETTINGS.index(6.0)
    assert waits(stream, fixed.alarms(past, today)[six], today) == pytest.approx(6.0)
    twelve = daily.SETTINGS.index(12.0)
    found = waits(stream, daily.alarms(past, today)[twelve], today)
    clock = stream.local[today] / HOUR % 24
    # a sign at 20:00 is seen at 08:00, one at 20:05 a day later: what sounds like 12 h and is 36 h
    assert found == pytest.approx(np.where(clock <= 20, 32 - clock, 56 - clock))
