"""SIGKILL at random instants under load: nothing that mattered is lost. benchmarks/crash.py does it 500 times."""

import pytest
from tests.live.crashing import run

ROUNDS = {"sqlite": 16, "postgres": 6}


@pytest.mark.parametrize("seed", [1])
def test_nothing_is_lost(tmp_path, mosquitto, store_url, seed):
    rounds = ROUNDS["postgres" if store_url.startswith("postgresql") else "sqlite"]
    outcome = run(tmp_path, store_url, mosquitto, rounds, seed, broker_kills=0.2)
    assert outcome.stored == outcome.published > 500
    assert outcome.alarms >= 1
    assert outcome.handed_over >= outcome.messages / 2
