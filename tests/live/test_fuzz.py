"""Odd payloads by the real ways in: none stops the watch, none rings by itself. benchmarks/fuzz.py sends 100,000."""

import pytest
from tests.live.broker import Mosquitto
from tests.live.fuzzing import run


@pytest.fixture
def broker(tmp_path):
    """A broker that saves nothing, and so is quick."""
    broker = Mosquitto(tmp_path, survives=False)
    yield broker
    broker.stop()


@pytest.mark.parametrize("seed", [1])
def test_nothing_that_comes_in_stops_it_or_rings_by_itself(tmp_path, broker, seed):
    found = run(tmp_path, broker.port, by_broker=2_000, by_http=300, broken=100, seed=seed)
    assert found.reports > 200
    assert set(found.answers) >= {202, 401, 413, 422, 400, 404}
    assert len(found.unread) >= 6
