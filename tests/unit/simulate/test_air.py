from datetime import date

import numpy as np
import pytest

from stillwell.plan.model import Part
from stillwell.simulate.air import Climate, air_reports, lagged, temperature_reports
from stillwell.simulate.draws import stream
from stillwell.simulate.life import live

pytestmark = pytest.mark.base


@pytest.fixture(scope="module")
def winter(cabin):
    return Climate(cabin, live(cabin, 20, 3, date(2026, 1, 12)), 3)


@pytest.fixture(scope="module")
def summer(cabin):
    return Climate(cabin, live(cabin, 20, 3, date(2026, 7, 13)), 3)


def test_a_first_order_lag_reaches_63_per_cent_after_its_time_constant():
    """Step response 1 - exp(-t/tau), any textbook of control; the grid's discrete form is within 1 % at tau = 60."""
    response = lagged(np.r_[0.0, np.ones(600)], 60)
    assert response[60] == pytest.approx(1 - np.exp(-1), abs=0.01)
    assert response[180] == pytest.approx(1 - np.exp(-3), abs=0.01)


def test_the_share_of_each_interval_adds_up_to_what_is_covered(winter):
    start = int(winter.times[0])
    share = winter.share_of([(start + 300_000, start + 1_500_000), (start + 1_200_000, start + 1_800_000)])
    assert share[:4].tolist() == [0.5, 1.0, 1.0, 0.0]
    assert share[4:].sum() == 0
    assert winter.share_of([]).sum() == 0


def test_winter_is_colder_than_summer_and_night_than_day(winter, summer):
    assert winter.outdoor_c.mean() < summer.outdoor_c.mean() - 8
    hour = winter.turn / (2 * np.pi) * 24
    assert winter.outdoor_c[(hour > 13) & (hour < 17)].mean() > winter.outdoor_c[hour < 5].mean() + 3


def test_seasons_are_the_other_way_round_in_the_south(cabin):
    home = cabin.home.model_copy(update={"position": (-41.3, 174.8)})
    southern = cabin.model_copy(update={"home": home})
    january = Climate(southern, live(southern, 20, 3, date(2026, 1, 12)), 3)
    assert january.outdoor_c.mean() > 12


def test_the_stove_is_lit_on_winter_evenings_and_seldom_in_summer(winter, summer):
    hour = winter.turn / (2 * np.pi) * 24
    assert winter.stove[(hour > 20) & (hour < 22)].mean() > 0.5 > winter.stove[(hour > 2) & (hour < 6)].max()
    assert winter.stove.mean() > 3 * summer.stove.mean()


def test_temperature_is_reported_in_steps_when_it_changes(winter):
    part = Part(kind="temperature", room="front_room")
    report = temperature_reports(part, "front_room", winter, stream(1))
    assert (np.diff(report.values) != 0).all()
    assert np.allclose(report.values * 5, np.round(report.values * 5))
    assert 5 < report.times.size / 20 < 80
    assert 14 < report.values.min() < report.values.max() < 28
    assert (np.diff(report.times) > 0).all()


def test_a_part_that_sends_every_report_sends_two_an_hour(winter):
    part = Part(kind="air", room="front_room", reports="every report")
    report = air_reports(part, "front_room", winter, stream(1))
    assert {signal: column.times.size for signal, column in report.items()} == {
        "co2": 20 * 48,
        "humidity": 20 * 48,
        "pm25": 20 * 48,
    }
    assert 350 < report["co2"].values.min() < 600 < report["co2"].values.max() < 1_600
    assert report["pm25"].values.min() >= 0
    assert report["humidity"].values.max() <= 98
