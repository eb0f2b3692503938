import pytest

from stillwell.keeper.keeper import Keeper
from stillwell.keeper.memory import Memory
from stillwell.keeper.reading import parse_settings
from stillwell.keeper.settings import Sources

START_MS = 1_767_225_600_000  # 1 January 2026, 00:00 UTC
KEY = "0123456789abcdef0123456789abcdef"
SETTINGS = f"""
[keeper]
public = "https://keeper.example.org"
timezone = "Europe/London"
status_password = "all my homes"

[homes.mill_lane]
name = "Mill Lane 4"
key = "{KEY}"
call = "street"

[homes.quay]
name = "The Quay"
key = "another key of 16 bytes or more"
dark_after = "5min"
call = "street"

[people.ann]
name = "Ann Field"
channels = {{ text = "run:true", mail = "ann@example.org" }}

[people.ben]
name = "Ben Marsh"
channels = {{ text = "run:true" }}

[calls.street]
steps = [
    {{ whom = ["ann", "ben"], by = "text", wait = "5min" }},
    {{ whom = ["ann"], by = "mail", wait = "5min" }},
]
then = "repeat"
still_true_after = "2h"

[mail]
host = "127.0.0.1"
sender = "keeper@example.org"
password = "the mail password"
"""


@pytest.fixture
def text():
    return SETTINGS


@pytest.fixture
def read(tmp_path):
    return lambda text: parse_settings(text, "keeper.toml", Sources(tmp_path, {"QUAY_KEY": "a key from outside 1"}))


@pytest.fixture
def said():
    """What went into the log: (what, about)."""
    return []


@pytest.fixture
def store(tmp_path):
    return tmp_path / "keeper.db"


@pytest.fixture
def begun(read, text, store, said):
    """Begin a keeper, or begin it again: the one before is gone without a word, as after SIGKILL."""
    memories = []

    def begin(now_ms=START_MS, text=text):
        while memories:
            memories.pop().close()
        memories.append(Memory(store))
        return Keeper(read(text), memories[-1], now_ms, lambda what, **about: said.append((what, about)))

    yield begin
    while memories:
        memories.pop().close()
