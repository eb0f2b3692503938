import re
from pathlib import Path

import pytest

from stillwell.keeper.reading import parse_settings, read_settings
from stillwell.keeper.settings import Sources, secrets_in
from stillwell.problem import Refusal

pytestmark = pytest.mark.base


def refused(read, text):
    with pytest.raises(Refusal) as refusal:
        read(text)
    return [str(problem) for problem in refusal.value.problems]


def test_what_was_agreed_for_a_home(read, text):
    settings = read(text)
    terms = settings.terms("quay")
    assert (terms.home, terms.dark_after_ms, terms.settle_ms) == ("quay", 300_000, 180_000)
    assert [(step.whom, step.by, step.wait_s, step.repeat) for step in terms.calls.steps] == [
        (("ann", "ben"), "text", 300, 1), (("ann",), "mail", 300, 1),
    ]  # fmt: skip
    assert (terms.calls.then, terms.calls.still_true_after_s) == ("repeat", 7200)
    assert settings.terms("mill_lane").dark_after_ms == 600_000


def test_addresses(read, text):
    settings = read(text)
    assert settings.address("ann", "mail") == "ann@example.org"
    assert settings.address("ben", "mail") is None
    assert settings.address("eve", "mail") is None
    assert settings.mail_server.password == "the mail password"


def test_secrets_come_from_files_and_from_the_environment(read, text, tmp_path):
    (tmp_path / "mill.key").write_text("the key from the file\nsecond line\n", "utf-8")
    text = text.replace('"0123456789abcdef0123456789abcdef"', '{ file = "mill.key" }')
    text = text.replace('"another key of 16 bytes or more"', '{ env = "QUAY_KEY" }')
    homes = read(text).homes
    assert homes["mill_lane"].key.get_secret_value() == "the key from the file"
    assert homes["quay"].key.get_secret_value() == "a key from outside 1"


def test_no_secret_is_ever_shown(read, text):
    settings = read(text)
    found = set(secrets_in(settings))
    assert {"the mail password", "all my homes", "ann@example.org", "another key of 16 bytes or more"} <= found
    assert not [secret for secret in found if secret in repr(settings) or secret in str(settings)]


@pytest.mark.parametrize(
    ("old", "new", "wanted"),
    [
        ("[keeper]", "[keper]", r"keper\): there is no key \"keper\" here"),
        ('public = "https://keeper.example.org"', "", r"keeper.*public.*public is missing"),
        ('"https://keeper.example.org"', '"keeper"', r"this is no address"),
        ("Europe/London", "Europe/Londn", r"4:12 \(keeper.timezone\): there is no time zone.*\n.*Europe/London"),
        ('dark_after = "5min"', "dark_after = 5", r"homes.quay, dark_after\): 5 has no unit"),
        ('dark_after = "5min"', 'dark_after = "0s"', r"homes.quay, dark_after\): "),
        ('dark_after = "5min"', 'dark_after = "5min"\ndark_affer = "1h"', r'no key "dark_affer" here\n.*dark_after'),
        ('key = "another key of 16 bytes or more"', 'key = "15 characters.."', r"quay, key\): this key is too short"),
        ('"another key of 16 bytes or more"', '"0123456789abcdef0123456789abcdef"', r"two homes have the same key"),
        ('"another key of 16 bytes or more"', '{ file = "gone.key" }', r"key.*gone.key: there is no such file"),
        ('"another key of 16 bytes or more"', '{ env = "GONE" }', r'there is no variable "GONE" in the environment'),
        ('"another key of 16 bytes or more"', '{ from = "x" }', r"homes.quay, key.*this does not fit here"),
        ('"another key of 16 bytes or more"', "5", r"homes.quay, key.*this does not fit here"),
        ('call = "street"', 'call = "stret"', r'there is no call list "stret"\n.*street'),
        ('whom = ["ann", "ben"]', 'whom = ["ann", "bn"]', r'calls.street, step 1, whom 2.*no person "bn"\n.*ben'),
        ('by = "mail"', 'by = "push"', r'calls.street, step 2, by\): "push" does not reach ann'),
        ('"ann@example.org"', '"ann"', r"people.ann, channels, mail.*this address cannot be right"),
        ('wait = "5min" },\n]', 'wait = "1ms" },\n]', r"step 2, wait\): after the last step it must wait"),
        ('then = "repeat"', 'then = "again"', r"this word is not known here\n.*repeat or everyone"),
        ('[mail]\nhost = "127.0.0.1"', "[mail]", r"mail.*host is missing"),
        ("[people.ben]", "[people.Ben]", r"cannot be a name"),
        ("[homes.quay]", "[homes.quay", r"keeper.toml:12"),
        ("[keeper]", '[keeper]\ncertificate = "x.pem"', r"belong together"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_told_with_its_place(read, text, old, new, wanted):
    assert old in text
    told = "\n".join(refused(read, text.replace(old, new)))
    assert re.search(wanted, told), told
    assert "keeper.toml" in told
    for secret in ("another key of", "the mail password", "all my homes", "0123456789abcdef"):
        assert secret not in told


def test_everything_is_told_at_once(read, text):
    told = refused(read, text.replace('call = "street"', 'call = "lane"').replace("Europe/London", "Atlantis"))
    assert len(told) == 3


def test_mail_needs_a_server(read, text):
    told = refused(read, text.partition("[mail]")[0])
    assert len(told) == 1
    assert "people.ann, channels, mail" in told[0]


def test_the_example_of_the_page_is_right(tmp_path):
    page = (Path(__file__).parents[3] / "docs/keeper.md").read_text("utf-8")
    for name in ("status-password", "mill-lane.key", "mail-password"):
        (tmp_path / name).write_text("a secret of 16 or more\n", "utf-8")
    settings = parse_settings(
        page.split("```toml\n")[1].split("```")[0], "page", Sources(tmp_path, {"ANN_TEXT": "x://y"})
    )
    assert settings.terms("mill_lane").dark_after_ms == 600_000


def test_a_file_that_everybody_can_read_is_refused(tmp_path, text):
    path = tmp_path / "keeper.toml"
    path.write_text(text, "utf-8")
    path.chmod(0o644)
    with pytest.raises(Refusal, match="chmod 600"):
        read_settings(path, {})
    path.chmod(0o600)
    assert len(read_settings(path, {}).homes) == 2
    with pytest.raises(Refusal, match="no such file"):
        read_settings(tmp_path / "gone.toml", {})
