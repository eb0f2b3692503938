"""A watch as a process that may write no more: the system refuses every write beyond some bytes, as a full disk does.

The limit is the system's own (RLIMIT_FSIZE, POSIX.1-2017, setrlimit): a write beyond it fails with EFBIG, to the log as
well as to the store.
"""

import resource
import signal

import pytest
from tests.live.at_work import MAILED, AtWork, Letters
from tests.live.broker import until
from tests.live.test_keeper import KEY, Keeper

from stillwell.store.store import look_into

NOTHING_MORE = 512


@pytest.fixture
def keeper(tmp_path):
    (tmp_path / "keeper").mkdir()
    keeper = Keeper(tmp_path / "keeper")
    settings = keeper.folder / "keeper.toml"
    settings.write_text(settings.read_text("utf-8").replace('dark_after = "2000ms"', 'dark_after = "10min"'), "utf-8")
    keeper.start()
    yield keeper
    keeper.process.kill()
    keeper.process.wait()


@pytest.fixture
def home(tmp_path, mosquitto, keeper):
    letters = Letters()
    outside = f'[keeper]\nurl = "http://127.0.0.1:{keeper.port}"\nhome = "mill"\nkey = "{KEY.decode()}"'
    home = AtWork(tmp_path, mosquitto.port, letters, MAILED.replace('supervision = "30min"', ""), outside)
    home.letters = letters
    home.start("--speed", "60")  # a heartbeat a second
    yield home
    letters.stop()
    home.process.kill()
    home.process.wait()


def limit(home, size):
    resource.prlimit(home.process.pid, resource.RLIMIT_FSIZE, (size, resource.RLIM_INFINITY))


def test_it_says_so_goes_on_from_memory_and_the_keeper_hears_of_it(home, keeper):
    until(lambda: "alive" in keeper.status(), "the keeper hears the home")
    limit(home, NOTHING_MORE)
    home.publish("stillwell/report/tap/wet", "yes")
    until(lambda: home.letters.to("ben@example.org", "Water"), "Ben is told although nothing can be written", 60)
    until(lambda: "the store cannot be written" in keeper.status(), "the keeper hears of it", 60)
    until(lambda: home.letters.to("ben@example.org", "the store"), "the keepers of the system are told", 60)
    assert "the store cannot be written" in [one.what for one in home.status().trouble]
    store = look_into(home.store)
    assert not [row for row in store.events_after(0) if row.signal == "tap.wet"]
    limit(home, resource.RLIM_INFINITY)
    until(lambda: [row for row in store.events_after(0) if row.signal == "tap.wet"], "it is written after all", 60)
    until(lambda: "the store cannot be written" not in keeper.status(), "the keeper hears that it is over", 60)
    assert home.end(signal.SIGTERM) == 0
    facts = [row.what for row in store.facts(0, 2**53)]
    store.close()
    assert {"raised", "the store cannot be written", "over: the store cannot be written"} <= set(facts)
