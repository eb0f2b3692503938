"""The signature is judged by one made here by hand."""

import base64
import hashlib
import hmac
import json

import pytest

from stillwell.keeper import links
from stillwell.keeper.allowance import MOST_CALLERS, Allowance
from stillwell.keeper.links import Link

pytestmark = pytest.mark.base

SECRET = bytes(range(32))
LINK = Link("mill", "ann", 1000, 9000)


def test_a_link_is_good_until_it_expires():
    token = links.token(LINK, SECRET)
    assert links.read(token, SECRET, 8999) == LINK
    assert links.read(token, SECRET, 9000) is None


def test_it_is_signed_as_it_says():
    body, mac = links.token(LINK, SECRET).split(".")
    plain = base64.urlsafe_b64decode(body + "=" * (-len(body) % 4))
    assert json.loads(plain) == ["mill", "ann", 1000, 9000]
    wanted = hmac.new(SECRET, b"stillwell answer link 1:" + plain, hashlib.sha256).digest()
    assert base64.urlsafe_b64decode(mac + "=") == wanted


def test_no_letter_of_it_can_be_changed():
    token = links.token(LINK, SECRET)
    for place, letter in enumerate(token):
        for other in "AZz9-_.!ü":
            changed = token[:place] + other + token[place + 1 :]
            # the last letter of 43 carries two bits that mean nothing
            if letter != other and place != len(token) - 1:
                assert links.read(changed, SECRET, 0) is None


@pytest.mark.parametrize("text", ["", ".", "a", "a.b", "\0", "é.é", "." * 2000, "A" * 5000])
def test_what_is_no_link(text):
    assert links.read(text, SECRET, 0) is None


def test_another_secret():
    assert links.read(links.token(LINK, SECRET), SECRET[::-1], 0) is None


def test_an_allowance_is_used_up_and_comes_back():
    allowance = Allowance(most=3, per_minute=6)
    assert [allowance.take("a", 0) for _ in range(4)] == [True, True, True, False]
    assert allowance.take("b", 0)
    assert not allowance.take("a", 9_999)
    assert allowance.take("a", 10_001)
    assert not allowance.left("a", 10_001)
    assert [allowance.take("a", 10_000_000) for _ in range(4)] == [True, True, True, False]


def test_many_callers_do_not_fill_the_memory():
    allowance = Allowance(most=1, per_minute=1)
    for number in range(MOST_CALLERS + 500):
        allowance.take(str(number), 0)
    assert len(allowance._known) == MOST_CALLERS
