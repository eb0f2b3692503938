"""What could be read on the way is named when a watch starts; what stays on this machine, or is sealed, is not."""

import pytest
from tests.trial_home import PLAN

from stillwell.plan.read import read_plan
from stillwell.watch.remarks import remarks
from stillwell.watch.settings import parse_settings

GOOD = """
[broker]
host = "broker.example"
user = "watch"
password = "0123456789"
tls = true
[http]
public = "https://home.example"
[mail]
host = "mail.example"
security = "starttls"
sender = "watch@home.example"
[keeper]
url = "https://keeper.example"
home = "mill"
key = "0123456789abcdef"
"""
HOME = read_plan(PLAN, "home.toml")


def said(text):
    return list(remarks(HOME, parse_settings(text), []))


def test_what_is_sealed_needs_no_word():
    assert said(GOOD) == []


@pytest.mark.parametrize(
    ("good", "bad", "words"),
    [
        ("tls = true", "tls = false", "can be read and altered on the way: set tls = true under [broker]"),
        ('user = "watch"\n', "", "anybody who reaches it can speak for any part"),
        ('security = "starttls"', 'security = "none"', "Mail can be read on the way"),
        ("[http]\n", '[http]\nhost = "0.0.0.0"\n', "with their tokens, can be read on the way"),
        ("https://home", "http://home", "Links in messages can be read on the way"),
    ],
)
def test_what_is_not_is_named_once(good, bad, words):
    (remark,) = said(GOOD.replace(good, bad, 1))
    assert words in remark


@pytest.mark.parametrize("here", ["127.0.0.1", "::1", "localhost"])
def test_on_this_machine_alone_nothing_needs_sealing(here):
    text = GOOD.replace("tls = true", "tls = false").replace("starttls", "none")
    assert said(text.replace("broker.example", here).replace("mail.example", here)) == []
