"""A plan, a status, facts and messages in which every text that may be anything is an attempt to run a script."""

import re
from dataclasses import replace

from tests.web_home import ALARM, MINUTE_MS, NOW_MS, RAISED_MS, TEXT, status

from stillwell.control import shapes
from stillwell.plan.read import read_plan
from stillwell.store.rows import FactRow

ATTACKS = (
    "<script>alert(1)</script>",
    "\"'><img src=x onerror=alert(1)>",
    "</title><svg/onload=alert(1)>",
    "{{ 7*7 }}<a href=javascript:alert(1)>x</a>",
    "</textarea><iframe srcdoc='<script>alert(1)</script>'>",
)
"""After the OWASP XSS Filter Evasion Cheat Sheet: text, attribute, title, template and frame."""


STANDING = (
    ("collapse", "unacknowledged"),
    ("blind", "acknowledged"),
    ("water", "shelved"),
    ("collapse", "acknowledged"),
)


def attack(number):
    return ATTACKS[number % len(ATTACKS)]


def hostile_text() -> str:
    """The demo home with each name, title and note replaced by an attack that keeps it apart from the others."""
    made: dict[str, str] = {}

    def swapped(found):
        key, title = found[1], found[2]
        attacked = made.setdefault(title, f"{attack(len(made))} {len(made)}")
        return f"{key}{_quoted(attacked)}"

    text = re.sub(r'^((?:name|notes|why|hazard|use)\s*=\s*)"([^"]*)"', swapped, TEXT, flags=re.MULTILINE)
    return re.sub(r'^notes\s*=\s*"""[^"]*"""', f"notes = {_quoted(attack(0))}", text, flags=re.MULTILINE)


def _quoted(text):
    return "'''" + text + "'''" if '"' in text else f'"{text}"'


def hostile_plan():
    return read_plan(hostile_text(), "home.toml")


def hostile_status():
    """What a watch over that home might say."""
    said = [shapes.Said("lene", attack(1), "looking", RAISED_MS + MINUTE_MS)]
    told = [
        shapes.Told("jonas", attack(number), attack(number + 1), RAISED_MS, None, 3, attack(number + 2))
        for number in range(5)
    ]
    alarms = tuple(
        replace(
            ALARM, name=f"{attack(number)} {number}", what=attack(number), kind=kind, state=state,
            sentence=attack(number + 3), told=tuple(told), said=tuple(said), by="x", by_name=attack(number),
            next=shapes.Next(NOW_MS, (attack(0), attack(1)), attack(2)),
        )
        for number, (kind, state) in enumerate(STANDING)
    )  # fmt: skip
    return status(
        home=attack(0), resident=attack(1), headline=attack(2), alarms=alarms,
        pause=shapes.Pause(NOW_MS, NOW_MS + MINUTE_MS, attack(3), attack(4)),
        trouble=tuple(shapes.Trouble(one, NOW_MS) for one in ATTACKS), remarks=ATTACKS,
        last_sign=shapes.Sign(NOW_MS, attack(0), attack(1), attack(2)),
    )  # fmt: skip


def hostile_facts():
    """What a store of that home might hold, whoever wrote it."""
    whats = [
        "raised",
        "returned to normal",
        "answered looking",
        "shelved",
        "paused",
        "told x by y",
        "could not tell x by y",
        *ATTACKS,
    ]
    return [
        FactRow(NOW_MS - number * MINUTE_MS, what, subject, attack(number), attack(number + 1))
        for number, (what, subject) in enumerate((what, subject) for what in whats for subject in (*ATTACKS, "watch"))
    ]
