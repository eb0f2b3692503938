"""SIGKILL at random instants under load: nothing that mattered is lost. benchmarks/crash.py does it 500 times."""

import pytest
from tests.live import crashing_keeper
from tests.live.crashing import run


@pytest.mark.parametrize("seed", [1])
def test_a_killed_watch_loses_nothing(tmp_path, store_url, seed):
    outcome = run(tmp_path, store_url, 5, seed)
    assert outcome.stored == outcome.published > 200
    assert outcome.alarms >= 1
    assert outcome.arrived >= 3


@pytest.mark.parametrize("seed", [1])
def test_a_killed_broker_and_watch_lose_nothing_that_is_stored(tmp_path, seed):
    outcome = run(tmp_path, str(tmp_path / "store.db"), 2, seed, broker_rounds=3)
    assert outcome.stored + outcome.lost_by_broker == outcome.published > 200
    assert outcome.alarms >= 1
    assert outcome.arrived >= 3


@pytest.mark.parametrize("seed", [1])
def test_a_killed_keeper_loses_nothing(tmp_path, seed):
    outcome = crashing_keeper.run(tmp_path, 5, seed)
    assert outcome.beats >= 10
    assert outcome.silences >= 1
    assert outcome.arrived >= 1
    assert outcome.replays_refused >= 5
