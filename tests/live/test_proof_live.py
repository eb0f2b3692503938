"""The proof holds live: random days, each with a hazard and mostly with one thing broken, from parts to people.

Through a real Mosquitto, the real store, loop and outbox, and a real mail server; on a clock that jumps from instant to
instant, so that a millisecond later than proved is a miss. ``benchmarks/live.py`` lives through a thousand days.
The outside judge is the proof itself: it knows nothing of the watch, and decides with the columnar engine.
"""

import asyncio
from pathlib import Path

import pytest
from tests.live.promised import Promises
from tests.live.stepped import Letters, street
from tests.trial_home import PLAN

from stillwell.plan.read import read_plan

COTTAGE = (Path(__file__).parents[2] / "examples" / "cottage" / "home.toml").read_text("utf-8")


def lived(text, seeds, days, port, folder):
    async def scene():
        promises = Promises(read_plan(text, "home.toml"))
        return [one async for _, one in street(promises, text, seeds, days, port, folder)]

    return asyncio.run(scene())


def say(one):
    day = one.day
    late_ms = None if one.told_ms is None else one.told_ms - day.promised_ms
    return f"{day.provable.hazard.name}, {day.fault}, {day.way.told}, onset {day.onset_ms}: late by {late_ms} ms"


@pytest.mark.parametrize(
    ("text", "seeds", "days"), [(COTTAGE, [11, 12, 14], 1), (PLAN, [13], 4)], ids=["cottage", "trial"]
)
def test_every_hazard_is_told_within_the_proved_bound(mosquitto, tmp_path, text, seeds, days):
    found = lived(text, seeds, days, mosquitto.port, tmp_path)
    assert len(found) == len(seeds) * days
    assert [say(one) for one in found if one.missed or one.blind_missed] == []
    # What is proved is reached: the bound is no idle one.
    assert any(one.told_ms == one.day.promised_ms for one in found)


def test_letters_that_come_a_little_late_are_found_out(mosquitto, tmp_path, monkeypatch):
    """A mail server that puts off each first try: the next one, two seconds later, is too late for the proof."""
    take, tried = Letters.handle_RCPT, set()

    async def put_off(letters, server, session, envelope, address, options):
        if address in tried:
            tried.discard(address)
            return await take(letters, server, session, envelope, address, options)
        tried.add(address)
        return "450 later"

    monkeypatch.setattr(Letters, "handle_RCPT", put_off)
    found = lived(PLAN, [13], 3, mosquitto.port, tmp_path)
    late_ms = [one.told_ms - one.day.promised_ms for one in found]
    assert any(one.missed for one in found)
    assert 1_500 <= max(late_ms) <= 2_000
