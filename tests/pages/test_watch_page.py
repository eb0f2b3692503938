"""The page about the watch forgets no setting, no trouble, no deed and no command beside it."""

from pathlib import Path

import pytest

from stillwell.cli.alarm import DEEDS
from stillwell.cli.program import COMMANDS
from stillwell.watch import health
from stillwell.watch.settings import Broker, Http, Keeper, Mail, Metrics, Settings

PAGE = (Path(__file__).parents[2] / "docs" / "watch.md").read_text("utf-8")
TEXT = " ".join(PAGE.split())


@pytest.mark.parametrize("table", [Settings, Broker, Http, Mail, Keeper, Metrics])
def test_every_setting_is_named(table):
    missing = [name for name in table.model_fields if f"`{name}`" not in PAGE and f"[{name}" not in PAGE]
    assert missing == []


@pytest.mark.parametrize("trouble", [*health.TOLD_AFTER_MS])
def test_every_trouble_is_named(trouble):
    assert trouble in TEXT


def test_every_command_beside_it_is_named():
    beside = {"watch", "status", "alarm", "pause", "drill", "change", "export", "erase"}
    assert beside <= set(COMMANDS)
    assert [name for name in beside if f"`stillwell {name}" not in PAGE] == []
    (line,) = [line for line in PAGE.splitlines() if line.startswith("| `stillwell alarm")]
    assert [deed for deed in DEEDS if deed not in line] == []


def test_the_cautions_come_first():
    """It is no certified alarm; the emergency number comes first; mains, fire and gas are for the licensed."""
    before = TEXT.partition("## ")[0]
    for words in ("no certified social alarm", "no smoke alarm", "emergency number comes first", "licensed people"):
        assert words in before
