"""What ``stillwell simulate --live`` refuses before it begins; what it does is in tests/live/test_played.py."""

import sys
from pathlib import Path

import pytest

COTTAGE = Path(__file__).parents[3] / "examples" / "cottage"


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ([], "no record is named"),
        (["--out", "x.csv", "--speed", "60"], "for playing live"),
        (["--out", "x.csv", "--hazard", "collapse"], "for playing live"),
        (["--out", "x.csv", "--fault", "hall_pir lost"], "for playing live"),
        (["--live", "--out", "x.csv"], "goes into no record"),
        (["--live", "--start", "2026-01-01"], "begins now"),
        (["--live", "--days", "0"], "cannot be played"),
        (["--live", "--speed", "-1"], "is no speed"),
        (["--live", "--speed", "1e9"], "is no speed"),
        (["--live", "--hazard", "flood"], 'no hazard "flood"'),
        (["--live", "--fault", "hall_pri lost"], 'no part "hall_pri"'),
        (["--live", "--fault", "hall_pir"], "how it is broken"),
        (["--live", "--broker", "nowhere"], "no address of a broker"),
        (["--live", "--broker", "127.0.0.1:99999"], "no address of a broker"),
        (["--live", "--settings", "none.toml"], "there is no such file"),
    ],
)
def test_what_makes_no_sense_is_refused(stillwell, words, says):
    code, out, err = stillwell("simulate", COTTAGE, *words)
    assert (code, out) == (2, "")
    assert says in err


def test_settings_without_a_broker_are_refused(stillwell, tmp_path):
    file = tmp_path / "settings.toml"
    file.write_text("[people]\n", "utf-8")
    file.chmod(0o600)
    code, _, err = stillwell("simulate", COTTAGE, "--live", "--settings", file)
    assert code == 2
    assert "Name it under [broker]" in err


def test_without_the_extra_it_says_what_to_install(stillwell, monkeypatch):
    for module in ("stillwell.cli.played", "stillwell.watch.played"):
        monkeypatch.delitem(sys.modules, module, raising=False)
    monkeypatch.setitem(sys.modules, "aiomqtt", None)
    code, _, err = stillwell("simulate", COTTAGE, "--live")
    assert code == 2
    assert 'pip install "stillwell[watch]"' in err
