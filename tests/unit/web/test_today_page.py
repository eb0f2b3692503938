"""Today: from the watch, from the store alone, from the plan alone; for the household and for responders."""

import asyncio
import json
from dataclasses import replace
from html.parser import HTMLParser

import pytest
from tests.web_home import (
    ALARM,
    ANSWERED,
    HOUR_MS,
    MINUTE_MS,
    NOW_MS,
    RAISED_MS,
    STATES,
    TEXT,
    Watching,
    fill,
    lost,
    plan,
    status,
    token_of,
    visiting,
    web_home,
)

from stillwell.control import shapes
from stillwell.plan.read import read_plan
from stillwell.store.accounts import Session, key_of
from stillwell.store.rows import EventRow, FactRow, PlanRow
from stillwell.store.store import open_store
from stillwell.watch.home import Home
from stillwell.watch.resume import fingerprint
from stillwell.web.pages.today import Showing
from stillwell.web.standing.feed import HOUSEHOLD, RESPONDERS
from stillwell.web.standing.today import blindness
from stillwell.web.visit import Visit

ROWS = (
    EventRow(1, NOW_MS - 3 * HOUR_MS, "kitchen_pir.movement", 1.0),
    EventRow(2, NOW_MS - 2 * HOUR_MS, "back_contact.open", 1.0),
    EventRow(3, NOW_MS - HOUR_MS, "hall_pir.movement", 1.0),
)


class Words(HTMLParser):
    """What somebody reads on a page."""

    def __init__(self, html):
        super().__init__()
        self.found = []
        self.feed(html)

    def handle_data(self, data):
        self.found.append(data.strip())

    @property
    def text(self):
        return " ".join(filter(None, self.found))


def get(home, role="family", path="/today", **headers):
    async def run():
        async with visiting(home, role) as client:
            return await client.get(path, headers=headers)

    return asyncio.run(run())


@pytest.mark.parametrize("state", STATES)
def test_each_state_says_what_is_going_on_in_its_first_sentence(tmp_path, state):
    page = get(web_home(tmp_path, watching=Watching(STATES[state])))
    head = page.text.partition('<section class="head')[2].partition("</section>")[0]
    assert head.startswith(f" {state}")
    expected = {
        "well": "Nothing to worry about.",
        "unanswered": "“No sign of life” since 14:05, and nobody has answered yet.",
        "answered": "Lene Rowan is looking after “No sign of life”, since 14:05.",
        "less": "The movement detector in the hall has been out of touch since 09:32, for 5 h.",
        "blind": "The watch has been blind since 12:32.",
        "paused": "The watch is paused until 15:32.",
    }
    assert expected[state] in Words(head).text


def test_an_unanswered_alarm_has_its_two_buttons_right_below_the_sentence(tmp_path):
    page = get(web_home(tmp_path, watching=Watching(STATES["unanswered"]))).text
    head = page.partition('<section class="head')[2].partition("</section>")[0]
    assert 'value="acknowledge No sign of life"' in head
    assert 'value="clear No sign of life"' in head
    assert page.count('value="acknowledge No sign of life"') == 1


def test_who_was_told_and_what_they_answered_stands_in_order_of_time(tmp_path):
    today = get(web_home(tmp_path, watching=Watching(STATES["answered"])), path="/today.json").json()
    assert [(line["at"], line["text"]) for line in today["rings"][0]["log"]] == [
        ("14:05", "Ruth Vale could not be told by call yet: the line is busy."),
        ("14:05", "Jonas Field was told by call."),
        ("14:07", "Jonas Field cannot look after it."),
        ("14:08", "Lene Rowan was told by call."),
        ("14:09", "Lene Rowan is looking after it."),
    ]


def test_who_was_told_more_than_once_reads_how_often_and_from_when_to_when(tmp_path):
    told = (
        shapes.Told("jonas", "Jonas Field", "call", NOW_MS, NOW_MS, 1, "", RAISED_MS, 3),
        shapes.Told("ruth", "Ruth Vale", "text", RAISED_MS, RAISED_MS, 1, "", RAISED_MS, 1),
        shapes.Told("piet", "Piet Marsh", "call", NOW_MS, NOW_MS, 1, "", RAISED_MS - 24 * HOUR_MS, 2),
    )
    stands = status(alarms=(replace(ALARM, told=told),))
    today = get(web_home(tmp_path, watching=Watching(stands)), path="/today.json").json()
    assert [(line["at"], line["text"]) for line in today["rings"][0]["log"]] == [
        ("14:05", "Ruth Vale was told by text."),
        ("14:32", "Jonas Field was told by call 3 times, from 14:05 to 14:32."),
        ("14:32", "Piet Marsh was told by call twice, from Mon 9 Mar 2026 14:05 to 14:32."),
    ]


def test_what_the_list_does_next_is_said(tmp_path):
    today = get(web_home(tmp_path, watching=Watching(STATES["unanswered"])), path="/today.json").json()
    assert today["rings"][0]["next"] == (
        "If nobody answers by 14:35, Jonas Field, Ruth Vale and Piet Marsh will be told by call."
    )


@pytest.mark.parametrize(
    ("form", "asked"),
    [
        ({"deed": "acknowledge No sign of life"}, ("alarm", {"name": "No sign of life", "do": "acknowledge"})),
        ({"deed": "clear drill: Water"}, ("alarm", {"name": "drill: Water", "do": "clear"})),
        ({"deed": "cannot Water"}, ("alarm", {"name": "Water", "do": "cannot"})),
        ({"deed": "back Water"}, ("alarm", {"name": "Water", "do": "back"})),
    ],
)
def test_a_press_is_asked_of_the_watch_in_the_name_of_who_pressed(tmp_path, form, asked):
    home = web_home(tmp_path)

    async def run():
        async with visiting(home, "responder") as client:
            return await client.post("/today/alarm", data={**form, "csrf": await token_of(client)})

    assert asyncio.run(run()).headers["location"] == "/today"
    ((path, table),) = home.watching.asked_for
    assert (path, {key: table[key] for key in ("name", "do")}) == asked
    assert table["by"] == "jonas"


@pytest.mark.parametrize(
    ("path", "form"),
    [
        ("/today/alarm", {}),
        ("/today/alarm", {"deed": "acknowledge"}),
        ("/today/alarm", {"deed": "shelve Water"}),
        ("/today/alarm", {"deed": "out Water"}),
        ("/today/alarm", {"deed": "burn Water"}),
        ("/today/pause", {}),
        ("/today/pause", {"minutes": "61"}),
        ("/today/pause", {"minutes": "-60"}),
        ("/today/pause", {"minutes": "9" * 400}),
        ("/today/drill", {"alarm": "No such"}),
    ],
)
def test_what_makes_no_sense_is_not_asked_of_the_watch(tmp_path, path, form):
    home = web_home(tmp_path)

    async def run():
        async with visiting(home, "family") as client:
            return await client.post(path, data={**form, "csrf": await token_of(client)})

    assert asyncio.run(run()).status_code == 409
    assert home.watching.asked_for == []


def test_a_watch_that_is_gone_says_so_where_something_was_pressed(tmp_path):
    home = web_home(tmp_path, watching=Watching(None))

    async def run():
        async with visiting(home, "family") as client:
            return await client.post("/today/resume", data={"csrf": await token_of(client)})

    answer = asyncio.run(run())
    assert answer.status_code == 409
    assert "No watch runs on this store" in Words(answer.text).text


def test_the_day_comes_out_of_the_store(tmp_path):
    home = web_home(tmp_path, fill(tmp_path / "home.db", rows=ROWS))
    today = get(home, path="/today.json").json()
    rows = {row["name"]: row for row in today["strip"]["rows"]}
    assert rows["kitchen"]["ink"] == [
        [ROWS[0].at_ms // 300_000 * 300_000, ROWS[0].at_ms // 300_000 * 300_000 + 300_000]
    ]
    assert rows["kitchen"]["said"] == "Movement 11:30 to 11:35."
    assert rows["doors"]["said"] == "12:32 back door opened."
    assert rows["bedroom"]["said"] == "No movement."


def test_a_responder_sees_the_alarm_and_not_the_day(tmp_path):
    facts = [FactRow(RAISED_MS, "raised", "No sign of life")]
    home = web_home(tmp_path, fill(tmp_path / "home.db", facts, ROWS), Watching(STATES["unanswered"]))
    today = get(home, "responder", "/today.json").json()
    assert today["rings"][0]["what"] == "No sign of life"
    assert today["strip"] is None
    assert today["log"] == []
    page = get(home, "responder").text
    assert "The last 24 hours" not in page
    assert "/today/pause" not in page
    assert "kitchen" not in page


def test_while_a_part_was_lost_its_room_was_not_seen(tmp_path):
    name = "hall_pir has stopped reporting"
    facts = [
        FactRow(NOW_MS - 9 * HOUR_MS, "raised", name),
        FactRow(NOW_MS - 8 * HOUR_MS, "returned to normal", name),
        FactRow(NOW_MS - 4 * HOUR_MS, "watch started", "watch", "", "it left off 3600 s ago"),
    ]
    home = web_home(
        tmp_path,
        fill(tmp_path / "home.db", facts, ROWS),
        Watching(status(parts=lost("hall_pir", since_ms=NOW_MS - HOUR_MS))),
    )
    rows = {row["name"]: row for row in get(home, path="/today.json").json()["strip"]["rows"]}
    watch_off = [NOW_MS - 5 * HOUR_MS, NOW_MS - 4 * HOUR_MS]
    end = -(-NOW_MS // 300_000) * 300_000
    assert sorted(rows["hall"]["unseen"]) == [
        [NOW_MS - 9 * HOUR_MS, NOW_MS - 8 * HOUR_MS],
        watch_off,
        [NOW_MS - HOUR_MS, end],
    ]
    assert rows["kitchen"]["unseen"] == [watch_off]


def test_without_a_running_watch_the_store_says_how_it_stood_and_nothing_can_be_pressed(tmp_path):
    home = Home(plan(), NOW_MS - 2 * HOUR_MS)
    home.pass_time(NOW_MS - HOUR_MS)
    home.drill(NOW_MS - HOUR_MS, "Water", "tom")
    store = fill(tmp_path / "home.db", rows=ROWS, until_ms=NOW_MS - HOUR_MS, home=home)
    pages = web_home(tmp_path, store, Watching(None))
    today = get(pages, path="/today.json").json()
    assert (today["state"], today["live"]) == ("unwatched", False)
    assert today["sentence"] == "No watch answers here."
    assert any("The store ends at 13:32." in line for line in today["more"])
    assert ("Water", True) in [(ring["what"], ring["drill"]) for ring in today["rings"]]
    assert all(ring["deeds"] == [] for ring in today["rings"])
    page = get(pages).text
    assert '<button class="deed' not in page


def test_with_a_plan_alone_it_says_that(tmp_path):
    pages = web_home(tmp_path, watching=Watching(None))
    today = get(pages, path="/today.json").json()
    assert today["sentence"] == "There is a plan of this home, but no watch."
    assert today["strip"] is None


def test_a_store_that_is_not_there_yet_is_no_mistake(tmp_path):
    pages = web_home(tmp_path, str(tmp_path / "later.db"), Watching(None))
    assert get(pages).status_code == 200
    fill(tmp_path / "later.db", rows=ROWS)

    async def run():
        await pages.feed.refresh()
        return await pages.feed.now(HOUSEHOLD)

    assert asyncio.run(run()).strip is not None


def test_the_page_follows_the_plan_that_the_watch_has_taken(tmp_path):
    changed = TEXT.replace('name = "Cottage on the hill"', 'name = "Cottage by the sea"')
    store = fill(tmp_path / "home.db", rows=ROWS)
    opened = open_store(store)
    opened.write([PlanRow(fingerprint(changed), changed, NOW_MS, "tom")])
    opened.close()
    home = web_home(tmp_path, store, Watching(status(plan=fingerprint(changed))))
    assert "Cottage by the sea" in get(home).text
    assert home.site.plan == read_plan(changed, "home.toml")
    assert home.site.version == 1


def test_what_is_lost_behind_a_hub_is_told_once(tmp_path):
    today = get(web_home(tmp_path, watching=Watching(STATES["blind"])), path="/today.json").json()
    assert len(today["unseen"]) == 1
    behind = sum(part.hub == "hill_hub" for part in plan().parts.values())
    assert today["unseen"][0]["text"].startswith(
        f"The radio hub is out of touch (hill_hub), and with it {behind} parts that it hears."
    )


def test_a_lost_hub_makes_blind_before_the_parts_behind_it_count_as_lost():
    assert blindness(plan(), STATES["well"], {"hill_hub": NOW_MS}) is not None
    assert blindness(plan(), STATES["well"], {"hall_pir": NOW_MS}) is None
    broker = status(trouble=(shapes.Trouble("no connection to the broker", NOW_MS - MINUTE_MS),))
    assert blindness(plan(), broker, {}).since_ms == NOW_MS - MINUTE_MS


def test_a_holiday_is_told_and_the_usual_is_not(tmp_path):
    states = (
        shapes.StateNow("holiday", "on", ("off", "on"), settable=True),
        shapes.StateNow("guarding", "unset", ("unset", "set"), settable=False),
    )
    today = get(web_home(tmp_path, watching=Watching(status(states=states))), path="/today.json").json()
    assert "Holiday is on." in today["more"]
    assert not any("uarding" in line for line in today["more"])


def test_asking_for_the_news_without_wanting_them_ends_at_once(tmp_path):
    home = web_home(tmp_path)

    async def run():
        async with visiting(home, "family") as client:
            return await client.head("/today/live")

    assert asyncio.run(run()).headers["content-type"].startswith("text/event-stream")


def test_who_said_that_all_is_well_is_not_asked_again_while_it_is_still_so(tmp_path):
    said = (*ANSWERED.said, shapes.Said("lene", "Lene Rowan", "well", RAISED_MS + 5 * MINUTE_MS))
    today = get(
        web_home(tmp_path, watching=Watching(status(alarms=(replace(ANSWERED, said=said),)))), path="/today.json"
    )
    page = today.json()
    assert page["sentence"] == "Lene Rowan says that all is well; “No sign of life” is still so, since 14:05."
    assert [deed["do"] for deed in page["rings"][0]["deeds"]] == ["cannot"]


def test_a_drill_is_no_alarm(tmp_path):
    drill = replace(ALARM, name="drill: Water", what="Water", kind="water", drill=True)
    today = get(web_home(tmp_path, watching=Watching(status(alarms=(drill,)))), path="/today.json").json()
    assert today["state"] == "well"
    assert today["rings"][0]["drill"]
    assert [deed["label"] for deed in today["rings"][0]["deeds"]] == ["I have heard it"]


def test_several_alarms_each_have_their_own_buttons_the_unanswered_first(tmp_path):
    water = replace(ALARM, name="Water", what="Water", kind="water", raised_ms=RAISED_MS + MINUTE_MS)
    page = get(
        web_home(tmp_path, watching=Watching(status(alarms=(ANSWERED, water, replace(ALARM, name="x", what="x")))))
    )
    rings = page.text.partition('<div id="rings"')[2].partition('<div id="unseen"')[0]
    order = [rings.index(f'value="{deed}"') for deed in ("acknowledge x", "acknowledge Water", "clear No sign of life")]
    assert order == sorted(order)
    assert 'value="' not in page.text.partition('<section class="head')[2].partition("</section>")[0]


def test_the_twin_is_json_by_address_or_by_asking(tmp_path):
    home = web_home(tmp_path)
    by_address, by_asking = get(home, path="/today.json"), get(home, accept="application/json")
    assert by_address.headers["content-type"] == "application/json"
    assert by_address.json() == by_asking.json()
    assert get(home, accept="text/html,application/json").headers["content-type"].startswith("text/html")
    assert json.loads(by_address.text)["sentence"] == "Nothing to worry about."


def test_news_come_as_the_pieces_that_changed(tmp_path):
    """Server-sent events as the HTML standard has them, section 9.2.6: data lines, an empty line after each event."""
    home = web_home(tmp_path, fill(tmp_path / "home.db", rows=ROWS))
    account = home.site.accounts.account("family")
    session = Session(key_of("s"), "family", NOW_MS, NOW_MS, NOW_MS + HOUR_MS, "")
    home.site.accounts.begin_session(session)
    visit = Visit(None, home.site, session, account, "")

    async def run():
        await home.feed.now(HOUSEHOLD)
        news = Showing(home.feed)._news(visit)
        first = await anext(news)
        home.watching.says(STATES["unanswered"])
        await home.feed.refresh()
        second = await anext(news)
        home.site.accounts.end_session(session.key)
        return first, second, [one async for one in news]

    first, second, rest = asyncio.run(run())
    assert first.startswith("data: ")
    assert first.endswith("\n\n")
    assert first.count("\n") == second.count("\n") == 2
    assert set(json.loads(first[6:])["pieces"]) == {"head", "rings", "unseen", "day", "log", "paused"}
    assert set(json.loads(second[6:])["pieces"]) == {"head", "rings"}
    assert rest == []


def test_many_readers_ask_the_watch_once(tmp_path):
    class Counting(Watching):
        asked_times = 0

        async def asked(self, ask):
            Counting.asked_times += 1
            return await super().asked(ask)

    home = web_home(tmp_path, watching=Counting())

    async def run():
        for _ in range(50):
            await home.feed.now(HOUSEHOLD)
            await home.feed.now(RESPONDERS)

    asyncio.run(run())
    assert Counting.asked_times == 1
