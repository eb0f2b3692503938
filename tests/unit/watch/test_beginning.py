"""With what a watch begins: the accepted plan before the file's, keys made once, remarks in plain words."""

import json
import stat
from pathlib import Path

import pytest
from tests.trial_home import PLAN, START_MS

from stillwell.plan.read import read_plan
from stillwell.problem import Refusal
from stillwell.store.rows import PlanRow, StateRow
from stillwell.store.store import open_store
from stillwell.watch.beginning import Trial, clock_for, plan_in_use
from stillwell.watch.clock import FastClock, SystemClock
from stillwell.watch.keys import control_key, link_key
from stillwell.watch.remarks import remarks
from stillwell.watch.resume import fingerprint
from stillwell.watch.settings import Settings, parse_settings

OTHER = PLAN.replace("for 3h", "for 6h")


@pytest.fixture
def store(tmp_path):
    opened = open_store(str(tmp_path / "home.db"), owner=True)
    yield opened
    opened.close()


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "home.toml"
    path.write_text(PLAN, "utf-8")
    return path


def accept(store, text):
    store.write([PlanRow(fingerprint(text), text, 1, "eve"), StateRow(0, START_MS, fingerprint(text), "{}")])


def test_at_the_first_start_the_file_counts(store, file):
    found = plan_in_use(store, file)
    assert (found.text, found.remark, found.plan.home.name) == (PLAN, "", "Trial home")
    file.write_text("[home", "utf-8")
    with pytest.raises(Refusal):
        plan_in_use(store, file)
    with pytest.raises(Refusal):
        plan_in_use(store, file.with_name("elsewhere.toml"))


def test_an_accepted_plan_goes_on_whatever_became_of_the_file(store, file):
    accept(store, OTHER)
    found = plan_in_use(store, file)
    assert (found.text, "differs from the plan in use" in found.remark) == (OTHER, True)
    file.write_text(OTHER, "utf-8")
    assert plan_in_use(store, file).remark == ""
    file.write_text(PLAN.replace("for 3h", "fr 3h"), "utf-8")
    found = plan_in_use(store, file)
    assert (found.text, "is not the plan in use" in found.remark) == (OTHER, True)
    file.unlink()
    assert "there is no such file" in plan_in_use(store, file).remark


def test_an_accepted_plan_of_another_version_gives_way_to_the_file(store, file):
    accept(store, "[a plan that nobody reads any more]")
    assert plan_in_use(store, file).text == PLAN


def test_time_goes_on_where_it_left_off(store):
    assert isinstance(clock_for(store, None), SystemClock)
    accept(store, PLAN)
    future_ms = 2**42  # the year 2109: the system's clock has been set back since
    store.write([StateRow(0, future_ms, fingerprint(PLAN), "{}")])
    assert clock_for(store, None).now_ms() >= future_ms
    with pytest.raises(Refusal, match="in earnest"):
        clock_for(store, Trial(60.0))


def test_a_trial_has_a_store_of_its_own(store):
    first = clock_for(store, Trial(60.0))
    assert isinstance(first, FastClock)
    left_off_ms = first.now_ms() + 10**9  # a trial is soon far ahead of every other clock
    store.write([StateRow(0, left_off_ms, fingerprint(PLAN), "{}")])
    again = clock_for(store, Trial(60.0))
    assert again.now_ms() > left_off_ms
    with pytest.raises(Refusal, match="of a trial"):
        clock_for(store, None)


def test_a_key_for_links_is_made_once_and_kept_private(tmp_path):
    store = str(tmp_path / "home.db")
    key = link_key(Settings(), store)
    assert link_key(Settings(), store) == key
    assert link_key(Settings(), str(tmp_path / "other.db")) != key
    file = Path(f"{store}.keys")
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert len(bytes.fromhex(key)) == 32
    assert link_key(parse_settings('link_key = "of the settings 0123"'), store) == "of the settings 0123"
    for broken in ("", "{}", json.dumps({"link_key": "short"})):
        file.write_text(broken, "utf-8")
        with pytest.raises(Refusal, match="holds no key"):
            link_key(Settings(), store)
    with pytest.raises(Refusal, match="link_key is missing"):
        link_key(Settings(), "postgresql://host/db#mill")


def test_the_control_key_is_another_at_each_start():
    assert control_key(Settings()) != control_key(Settings())
    assert control_key(parse_settings('control_key = "of the settings 0123"')) == "of the settings 0123"


def test_what_is_wanting_is_said_in_plain_words():
    settings = parse_settings(
        """
        [people.ben]
        text = "nonsense"
        mail = "ben@example.org"
        [people.zoe]
        text = "run:/bin/true"
        [tokens]
        cellar = "0123456789abcdef"
        """
    )
    said = " ".join(remarks(read_plan(PLAN, "home.toml"), settings, [("eve", "text")]))
    for words in (
        "Eve cannot be told by text: write their address under [people.eve], text, in the settings.",
        "The address for Ben by text cannot be right",
        "the settings name no mail server",
        "an address for zoe, whom the plan does not know",
        "a token for cellar, a part that the plan does not know",
        "nobody notices if this home goes dark",
        "Links in messages lead nowhere outside of this machine",
    ):
        assert words in said
    assert "nonsense" not in said
    assert "nobody hears of lost parts" not in said
    without = read_plan(PLAN.replace('[upkeep]\ncall = "family"', ""), "home.toml")
    assert "nobody hears of lost parts" in " ".join(remarks(without, settings, []))


def test_nothing_is_wanting_where_all_is_there():
    settings = parse_settings(
        """
        [http]
        public = "https://mill.example.org"
        [keeper]
        url = "https://keeper.example.org"
        home = "mill"
        key = "0123456789abcdef"
        [people.ben]
        text = "run:/bin/true"
        """
    )
    assert list(remarks(read_plan(PLAN, "home.toml"), settings, [])) == []
