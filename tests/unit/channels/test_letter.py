"""The mail as it is written, read back by the standard library's own parser."""

from email import message_from_bytes, policy
from email.utils import parsedate_to_datetime

import pytest

from stillwell.channels.mail import MailServer, written
from stillwell.channels.notice import Notice

NOTICE = Notice(
    "k" * 32, "Smoke, Mühle", "At Mühle the alarm stands.", "https://home.example/answer/t", 1_780_000_000_000
)


def read_back(letter):
    return message_from_bytes(letter.as_bytes(), policy=policy.default)


def test_a_letter_says_it_all():
    letter = read_back(written("Stillwell <watch@home.example>", "ruth@example.org", NOTICE))
    assert letter["Subject"] == "Smoke, Mühle"
    assert letter["To"] == "ruth@example.org"
    assert letter.get_content() == "At Mühle the alarm stands.\nhttps://home.example/answer/t\n"


def test_sent_twice_it_is_the_same_letter():
    """RFC 5322, 3.6.4: a message identifier names exactly one version of one message."""
    first, second = (written("watch@home.example", "ruth@example.org", NOTICE) for _ in range(2))
    assert first.as_bytes() == second.as_bytes()
    assert first["Message-ID"] == f"<{'k' * 32}@home.example>"
    assert parsedate_to_datetime(first["Date"]).timestamp() == 1_780_000_000


def test_it_asks_for_no_absence_note():
    """RFC 3834, 5: responders do not answer what is auto-generated."""
    assert written("watch@home.example", "ruth@example.org", NOTICE)["Auto-Submitted"] == "auto-generated"


@pytest.mark.parametrize("address", ["ruth@example.org\nBcc: eve@example.org", "ruth@example.org\r\n\r\nbody"])
def test_no_header_can_be_smuggled_in(address):
    with pytest.raises(ValueError):
        written("watch@home.example", address, NOTICE)


def test_the_password_is_not_shown():
    assert "hush" not in repr(MailServer("h", 25, "none", "a@b.example", "user", "hush-hush"))
