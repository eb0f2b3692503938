"""The figures: what they say of a home, and that nothing of the resident is in them."""

import asyncio

from tests.trial_home import START_MS, ManualClock, running, turn

from stillwell.store.store import open_store
from stillwell.watch.metrics import exposition
from stillwell.watch.orders import Orders
from stillwell.watch.payload import Report, Unread
from stillwell.watch.standing import Standing
from stillwell.watch.status import Trouble


def text_of(folder):
    async def play():
        store = open_store(str(folder / "store.db"), owner=True)
        async with running(store, ManualClock()) as watch:
            await watch.hand_in([Report("hall_pir.movement", 1.0), Report("tap.wet", 1.0), Unread("too long", "x")])
            watch.hand_in([Unread("too long", "y")])
            await Orders(watch).drill("No sign of life", "eve")
            watch.trouble['a "quoted"\nword \\'] = Trouble("x", START_MS)
            watch.trouble["it"] = Trouble('a "quoted"\nword \\', START_MS)
            await turn(watch)
            return exposition(await Standing(watch).status(), 0.25, "1.2.3")

    return asyncio.run(play())


def test_each_figure_says_what_is_so(tmp_path):
    lines = text_of(tmp_path).splitlines()
    for line in (
        'stillwell_build_info{version="1.2.3"} 1',
        f"stillwell_start_time_seconds {START_MS / 1000:.15g}",
        "# TYPE stillwell_reports_total counter",
        "stillwell_reports_total 2",
        'stillwell_unread_total{reason="too long"} 2',
        'stillwell_alarms{state="unacknowledged"} 1',
        'stillwell_alarms{state="shelved"} 0',
        "stillwell_parts 4",
        "stillwell_parts_lost 0",
        "stillwell_paused 0",
        "stillwell_messages_waiting 2",
        "stillwell_loop_lag_seconds 0.25",
        'stillwell_trouble{what="a \\"quoted\\"\\nword \\\\"} 1',
    ):
        assert line in lines
    assert not [line for line in lines if "keeper" in line]  # none is named


def test_nothing_of_the_resident_is_in_them(tmp_path):
    """Least data: whoever collects figures learns nothing of who moved where and when."""
    text = text_of(tmp_path)
    for word in ("hall", "movement", "sign_of_life", "Ada", "Ben", "Trial home", str(START_MS + 1)):
        assert word not in text
