"""The settings file: read whole or refused in words, and no secret leaves it by accident."""

import io
import json

import pytest

from stillwell.problem import Refusal
from stillwell.watch.log import HIDDEN, Log
from stillwell.watch.remarks import mail_server
from stillwell.watch.settings import Settings, parse_settings, read_settings, secrets_in

SECRETS = [
    "correct horse battery",
    "0123456789abcdef-link",
    "tap-token-0123456789",
    "ben@example.org",
    "keeper-key-0123456",
]
TEXT = f"""
link_key = "{SECRETS[1]}"

[broker]
host = "10.0.0.2"
user = "watch"
password = "{SECRETS[0]}"
tls = true

[tokens]
tap = "{SECRETS[2]}"

[people.ben]
mail = "{SECRETS[3]}"

[keeper]
url = "https://keeper.example.org"
home = "mill_lane"
key = "{SECRETS[4]}"
"""


def written(tmp_path, text, mode=0o600):
    file = tmp_path / "settings.toml"
    file.write_text(text, "utf-8")
    file.chmod(mode)
    return file


def test_what_is_written_is_read(tmp_path):
    settings = read_settings(written(tmp_path, TEXT))
    assert settings.broker.port == 1883
    assert settings.broker.password.get_secret_value() == SECRETS[0]
    assert settings.people["ben"]["mail"].get_secret_value() == SECRETS[3]
    assert settings.http is None


def test_nothing_must_be_there():
    assert parse_settings("") == Settings()


def test_a_secret_shows_nowhere():
    settings = parse_settings(TEXT)
    assert sorted(secrets_in(settings)) == sorted(SECRETS)
    for shown in (repr(settings), str(settings), settings.model_dump_json()):
        assert not any(secret in shown for secret in SECRETS)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (("[broker]", "[borker]"), ['no key "borker"', "Did you mean broker?"]),
        (("user =", "usr ="), ["broker, usr", "Did you mean user?"]),
        (('url = "https://keeper.example.org"', ""), ["keeper, url", "url is missing"]),
        (("tls = true", 'tls = "perhaps"'), ["broker, tls", "does not fit"]),
        (('host = "10.0.0.2"', 'host = "10.0.0.2"\nport = 99999'), ["broker, port", "65535"]),
        ((SECRETS[2], "short"), ["tokens, tap", "too short", "openssl rand"]),
        (("[tokens]", "[tokens"), ["not TOML"]),
    ],
)
def test_mistakes_are_told_and_no_value_is_quoted(tmp_path, change, told):
    assert change[0] in TEXT
    with pytest.raises(Refusal) as refusal:
        read_settings(written(tmp_path, TEXT.replace(*change)))
    for words in told:
        assert words in str(refusal.value)
    assert not any(secret in str(refusal.value) for secret in SECRETS)


@pytest.mark.parametrize("mode", [0o604, 0o644, 0o606])
def test_a_file_that_everybody_can_read_is_refused(tmp_path, mode):
    with pytest.raises(Refusal, match="chmod 600"):
        read_settings(written(tmp_path, TEXT, mode))


def test_a_file_that_is_not_there(tmp_path):
    with pytest.raises(Refusal, match="no such file"):
        read_settings(tmp_path / "none.toml")


def test_the_log_hides_every_secret_wherever_it_turns_up():
    stream = io.StringIO()
    log = Log(lambda: 1_767_225_600_123, secrets_in(parse_settings(TEXT)), stream)
    log("connected", host="10.0.0.2", why=ValueError(f"bad password {SECRETS[0]!r}"), tries=3, fine=True, none=None)
    log("mail", text=f"<{SECRETS[3]}> {SECRETS[2]}")
    first, second = (json.loads(line) for line in stream.getvalue().splitlines())
    assert first == {
        "at": "2026-01-01T00:00:00.123Z",
        "what": "connected",
        "host": "10.0.0.2",
        "why": f"bad password '{HIDDEN}'",
        "tries": 3,
        "fine": True,
        "none": None,
    }
    assert second["text"] == f"<{HIDDEN}> {HIDDEN}"


def test_a_line_of_the_log_is_one_line():
    stream = io.StringIO()
    Log(lambda: 0, (), stream)("x", text="a\nb\u2028c" + "y" * 10_000)
    assert stream.getvalue().count("\n") == 1
    assert len(stream.getvalue()) < 3_000


def test_whose_certificates_are_trusted_is_handed_on():
    table = '[mail]\nhost = "m"\nsender = "w@example.org"\nca_file = "/etc/ca.pem"\npassword = "secret"\n'
    server = mail_server(parse_settings(table))
    assert (server.ca_file, server.port, server.security, server.password) == ("/etc/ca.pem", 587, "starttls", "secret")
    assert mail_server(parse_settings("")) is None
    keeper = parse_settings('[keeper]\nurl = "https://k.example.org"\nhome = "m"\nkey = "k"\nca_file = "c"').keeper
    assert keeper.ca_file == "c"


@pytest.mark.parametrize("url", ["keeper.example.org", "ftp://keeper.example.org", "file:///etc/passwd", "http://"])
def test_an_address_of_a_keeper_is_one_of_the_web(url):
    with pytest.raises(Refusal) as refused:
        parse_settings(f'[keeper]\nurl = "{url}"\nhome = "mill"\nkey = "0123456789abcdef"')
    assert "keeper, url" in str(refused.value)
    assert url not in str(refused.value)
