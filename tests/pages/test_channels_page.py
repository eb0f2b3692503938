"""docs/channels.md: its settings are read as they stand there, and its figures are those of the program."""

import re
import subprocess
from pathlib import Path

from stillwell.channels.command import PATIENCE_S
from stillwell.channels.mail import MailServer
from stillwell.channels.through_apprise import _TAKES_HEADERS
from stillwell.channels.ways import unusable
from stillwell.watch.answer_page import BUTTONS
from stillwell.watch.links import LIFE_MS
from stillwell.watch.outbox import FIRST_WAIT_MS, LONGEST_WAIT_MS
from stillwell.watch.settings import parse_settings
from stillwell.wording.messages import TEXT_LENGTH

PAGE = (Path(__file__).parents[2] / "docs/channels.md").read_text("utf-8")
FLAT = " ".join(PAGE.split())


def block(language):
    return re.search(rf"```{language}\n(.*?)```", PAGE, re.DOTALL)[1]


def test_its_settings_can_be_used():
    settings = parse_settings(block("toml"))
    addresses = {
        person: {channel: address.get_secret_value() for channel, address in by.items()}
        for person, by in settings.people.items()
    }
    mail = settings.mail
    server = MailServer(mail.host, mail.port, mail.security, mail.sender)
    assert list(unusable(addresses, server)) == []
    assert set(addresses["ruth"]) == {"mail", "text", "call"}


def test_its_program_is_one_that_a_shell_reads_and_gives_known_answers():
    script = block("sh")
    subprocess.run(["sh", "-n"], input=script, text=True, check=True)
    assert re.findall(r"answer=(\w+)", script) == list(BUTTONS)


def test_its_figures_are_those_of_the_program():
    assert f"after {FIRST_WAIT_MS // 1000} s, {FIRST_WAIT_MS // 500} s" in FLAT
    assert f"at least every {LONGEST_WAIT_MS // 60_000} minutes" in FLAT
    assert f"- {PATIENCE_S:.0f} seconds;" in FLAT
    assert f"at most {TEXT_LENGTH} characters" in FLAT
    assert LIFE_MS == 86_400_000
    assert "one asking and one day" in FLAT
    assert all(f"*{text}*" in FLAT for text in BUTTONS.values())
    assert {name for name in _TAKES_HEADERS if f"`{name}`" in FLAT} == {"json", "form", "xml"}
